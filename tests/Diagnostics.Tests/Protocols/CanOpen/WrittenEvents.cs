using System.Globalization;
using Diagnostics.Can;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Protocols.CanOpen;

namespace Diagnostics.Tests.Protocols.CanOpen;

/// <summary>Writes every event as one line of text, and feeds frames given as text.</summary>
internal sealed class WrittenEvents : ICanOpenEvents
{
    private readonly CanOpenDecoder _decoder;
    private readonly SiteNames _names;
    private long _milliseconds;

    public WrittenEvents(AsBuiltRecord? record = null, params IReadOnlyList<DataSheet> sheets)
    {
        _decoder = new(this, record, sheets);
        _names = new(record);
    }

    public List<string> Lines { get; } = [];

    public IReadOnlyList<string> SheetRemarks => [.. _decoder.SheetRemarks(_names).Select(remark => remark.English)];

    public byte SenderOf(uint id) => _decoder.SenderOf(id);

    public string? ProductOf(int node) => _decoder.SheetOf(node)?.ProductName;

    /// <summary>Lines but those of every SDO frame and PDO, which say no more than that one was there.</summary>
    public IEnumerable<string> Meanings => Lines.Where(line => !line.StartsWith("sdo", StringComparison.Ordinal) && !line.StartsWith("pdo", StringComparison.Ordinal));

    /// <summary>Identifier#data as the text log writes it (R for remote), one millisecond after the one before.</summary>
    public DecodeOutcome Feed(string frame) => Feed(frame, ++_milliseconds);

    public DecodeOutcome Feed(string frame, long milliseconds)
    {
        _milliseconds = milliseconds;
        return _decoder.Decode(TextFrames.Parse(frame, milliseconds));
    }

    public DecodeOutcome Feed(in CanFrame frame) => _decoder.Decode(frame);

    public void FeedAll(params string[] frames)
    {
        foreach (string frame in frames)
        {
            Assert.Equal(DecodeOutcome.Understood, Feed(frame));
        }
    }

    public string[] TakeMeanings()
    {
        string[] meanings = [.. Meanings];
        Lines.Clear();
        return meanings;
    }

    public void OnNetworkCommand(Instant time, NmtCommand command, byte node) => Write($"command {command} {node}");

    public void OnBootUp(Instant time, byte node) => Write($"boot {node}");

    public void OnErrorControl(Instant time, byte node, NodeState state, bool isGuardAnswer) => Write($"{(isGuardAnswer ? "guard" : "heartbeat")} {node} {state}");

    public void OnGuardRequest(Instant time, byte node) => Write($"guarding {node}");

    public void OnSync(Instant time) => Write($"sync");

    public void OnTime(Instant time) => Write($"time");

    public void OnEmergency(Instant time, byte node, ushort errorCode, byte errorRegister, ReadOnlySpan<byte> manufacturer) =>
        Write($"emergency {node} {errorCode:X4} {errorRegister:X2} {Convert.ToHexString(manufacturer)}");

    public void OnSdoRequest(Instant time, byte node, ReadOnlySpan<byte> data) => Write($"sdo request {node}");

    public void OnSdoAnswer(Instant time, byte node, ReadOnlySpan<byte> data) => Write($"sdo answer {node}");

    public void OnObjectValue(Instant time, byte node, ushort index, byte subIndex, ReadOnlySpan<byte> value, bool isWrite) =>
        Write($"{(isWrite ? "write" : "read")} {node} {index:X4}:{subIndex:X2} {Convert.ToHexString(value)}");

    public void OnSdoAbort(Instant time, byte node, ushort index, byte subIndex, uint abortCode, bool byServer) =>
        Write($"abort {node} {index:X4}:{subIndex:X2} {abortCode:X8} by {(byServer ? "server" : "client")}");

    public void OnPdo(Instant time, byte node, int number, bool isTransmit) => Write($"pdo {(isTransmit ? "T" : "R")}{number} {node}");

    public void OnInput(Instant time, byte node, int input, bool active, bool isFirst) => Write("input", node, input, active, isFirst);

    public void OnOutputCommand(Instant time, byte node, int output, bool active, bool isFirst) => Write("commanded", node, output, active, isFirst);

    public void OnOutputReport(Instant time, byte node, int output, bool active, bool isFirst) => Write("reported", node, output, active, isFirst);

    public void OnLss(Instant time, bool isRequest, ReadOnlySpan<byte> data) => Write($"lss {(isRequest ? "request" : "answer")} {Convert.ToHexString(data)}");

    private void Write(string what, byte node, int number, bool active, bool isFirst) =>
        Write($"{what} {node}.{number} {(active ? "on" : "off")}{(isFirst ? " first" : "")}");

    private void Write(FormattableString line) => Lines.Add(line.ToString(CultureInfo.InvariantCulture));
}
