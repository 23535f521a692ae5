using Diagnostics.Agent.Commands;
using Diagnostics.Can;
using Diagnostics.Can.Traces;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Buses;

/// <summary>
/// Recorded traffic as a source: files in the order given, one time line, read in pieces so that size doesn't matter. As for an interface a thread of its own reads, and this
/// drains the queue on the consumer's thread; here the reader waits when the consumer falls behind.
/// </summary>
internal sealed class TraceSource : IBusSource
{
    private const int PieceBytes = 256 * 1024;

    /// <summary>Stamps may be shuffled by so much (<see cref="TimeLine"/>), across the edge of two files, too.</summary>
    private static readonly TimeSpan Overlap = TimeSpan.FromSeconds(1);

    /// <summary>16 × 256 frames are a third of a megabyte, which stays in the processor's cache between reader and consumer.</summary>
    private const int WaitingBatches = 16;

    private readonly Queue<string> _files;
    private readonly Stream _standardInput;
    private readonly BusQueue _queue = new(WhenFull.Wait, WaitingBatches);
    private readonly TimeLine _line;
    private readonly TraceInterfaces _interfaces = new();
    private readonly List<Sentence> _remarks = [];
    private (string Name, Instant Last)? _before;
    private bool _started;

    public TraceSource(IReadOnlyList<string> files, Stream standardInput)
    {
        _files = new(files);
        _standardInput = standardInput;
        _line = new(_queue);
        Name = string.Join(", ", files.Select(file => file == SourceFile.StandardInput ? "standard input" : Path.GetFileName(file)));
    }

    public string Kind => "trace";

    public string Name { get; }

    public Instant? Now => null;

    /// <summary>What a reader of the report should know about how the trace was read, file by file.</summary>
    public IReadOnlyList<Sentence> Remarks => _remarks;

    public bool Read(IFrameSink sink, TimeSpan patience, CancellationToken cancellation)
    {
        if (!_started)
        {
            _started = true;
            new Thread(ReadAll) { IsBackground = true, Name = "trace" }.Start();
        }

        return _queue.Drain(sink, patience, cancellation, out _);
    }

    /// <summary>The reader closes its file itself; one that waits for standard input is left to the end of the program.</summary>
    public void Dispose() => _queue.Abandon();

    private void ReadAll()
    {
        try
        {
            byte[] piece = new byte[PieceBytes];
            while (_files.TryDequeue(out string? file))
            {
                ReadFile(file, piece);
            }

            _line.Complete();
            _queue.Complete();
        }
        catch (Exception problem)
        {
            // Whatever it is, it is the consumer's to tell.
            _queue.Complete(problem);
        }
    }

    private void ReadFile(string file, byte[] piece)
    {
        bool isOnDisk = file != SourceFile.StandardInput;
        string name = isOnDisk ? file : "standard input";
        using Stream? opened = isOnDisk ? Open(file) : null;
        TraceParser parser = TraceParser.Create(_line, _interfaces);
        int read;
        do
        {
            try
            {
                read = (opened ?? _standardInput).Read(piece, 0, piece.Length);
            }
            catch (IOException problem)
            {
                throw new SettingException(name, $"reading it failed ({problem.Message.TrimEnd('.')})", "check the medium it lies on");
            }

            if (!(read > 0 ? parser.Feed(piece.AsSpan(0, read)) : parser.Complete()))
            {
                throw Refused(name, isOnDisk, parser.Error!);
            }
        }
        while (read > 0);
        _line.EndFile();
        if (parser.First is { } first)
        {
            if (_before is { } before && before.Last - first > Overlap)
            {
                _remarks.Add(Say($"{name}: It begins before {before.Name} ends. Files make one time line in the order given; where that isn’t theirs, name the earlier one first."));
            }

            _before = (name, parser.Last);
        }

        _remarks.AddRange(parser.Remarks.Select(remark => Say($"{name}: {Sentence.Of(remark)}")));
    }

    private static FileStream Open(string file)
    {
        if (Directory.Exists(file))
        {
            throw new SettingException(file, "it is a directory", "name the traces in it, in the order of time, or see the log in it with 'diagnostics open'");
        }

        try
        {
            return new FileStream(file, FileMode.Open, FileAccess.Read, FileShare.ReadWrite, 1, FileOptions.SequentialScan);
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            string why = problem is FileNotFoundException or DirectoryNotFoundException ? "there is no such file" : $"it can't be opened ({problem.Message.TrimEnd('.')})";
            throw new SettingException(file, why, "name a trace that this user may read");
        }
    }

    /// <summary>What else it is shows in its first bytes, where they can be read once more.</summary>
    private static SettingException Refused(string name, bool isOnDisk, TraceError error) => (isOnDisk ? SourceFile.KindOf(name) : SourceKind.Trace) switch
    {
        SourceKind.Bundle => new SettingException(name, "it is a bundle (or another zip archive), not a trace", "see it with 'diagnostics open', or compare it with 'diagnostics compare'"),
        SourceKind.Report => new SettingException(name, "it is a report document (or other JSON), not a trace", "write it as a page with 'diagnostics report', or compare it with 'diagnostics compare'"),
        _ => new NotATraceException(name, error.Message.TrimEnd('.'), "give a pcapng or pcap capture of CAN, or a SocketCAN text log with time stamps"),
    };
}
