using System.Globalization;
using Diagnostics.Can;

namespace Diagnostics.Tests.Simulation;

/// <summary>Keeps what a simulated site hands over.</summary>
internal sealed class Recorder : IFrameSink
{
    public List<CanFrame> All { get; } = [];

    public List<NotSeen> Gaps { get; } = [];

    public List<InterfaceFacts> Facts { get; } = [];

    public IEnumerable<CanFrame> Frames => All.Where(frame => !frame.IsError);

    public IEnumerable<ErrorMessage> Errors => All.Where(frame => frame.IsError).Select(frame => ErrorMessage.From(frame));

    public IEnumerable<CanFrame> With(uint id) => Frames.Where(frame => frame.Id == CanId.Base(id));

    public void OnInterface(byte index, InterfaceFacts facts) => Facts.Add(facts);

    public void OnFrame(in CanFrame frame) => All.Add(frame);

    public void OnNotSeen(in NotSeen notSeen) => Gaps.Add(notSeen);

    public IEnumerable<string> Lines() => All.Select(frame => string.Create(
        CultureInfo.InvariantCulture,
        $"{frame.Time} {frame.Interface} {(frame.IsError ? "error " + frame.ErrorClassBits.ToString("X", CultureInfo.InvariantCulture) : frame.Id.ToString())}#{(frame.IsRemote ? "R" + frame.DataLengthCode : Convert.ToHexString(frame.Bytes))}"));
}
