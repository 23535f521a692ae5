using Diagnostics.Agent.Commands;
using Diagnostics.Can;
using Diagnostics.Can.Traces;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Buses;

/// <summary>
/// Recorded traffic as a source: files in the order given, one time line, read in pieces so that size doesn't matter.
/// </summary>
internal sealed class TraceSource : IBusSource
{
    private const string StandardInput = "-";
    private const int PieceBytes = 256 * 1024;

    private readonly Queue<string> _files;
    private readonly Stream _standardInput;
    private readonly byte[] _piece = new byte[PieceBytes];
    private readonly TraceInterfaces _interfaces = new();
    private readonly List<Sentence> _remarks = [];
    private Stream? _stream;
    private string _file = "";
    private TraceParser? _parser;
    private TimeLine? _line;

    public TraceSource(IReadOnlyList<string> files, Stream standardInput)
    {
        _files = new(files);
        _standardInput = standardInput;
        Name = string.Join(", ", files.Select(file => file == StandardInput ? "standard input" : Path.GetFileName(file)));
    }

    public string Kind => "trace";

    public string Name { get; }

    public Instant? Now => null;

    /// <summary>What a reader of the report should know about how the trace was read, file by file.</summary>
    public IReadOnlyList<Sentence> Remarks => _remarks;

    public bool Read(IFrameSink sink, TimeSpan patience, CancellationToken cancellation)
    {
        _line ??= new(sink);
        if (_stream is null && !OpenNext())
        {
            _line.Complete();
            return false;
        }

        int read;
        try
        {
            read = _stream!.Read(_piece, 0, _piece.Length);
        }
        catch (IOException problem)
        {
            throw new SettingException(_file, $"reading it failed ({problem.Message.TrimEnd('.')})", "check the medium it lies on");
        }

        bool isTrace = read > 0 ? _parser!.Feed(_piece.AsSpan(0, read)) : _parser!.Complete();
        if (!isTrace)
        {
            throw Refused(_parser.Error!);
        }

        if (read == 0)
        {
            _remarks.AddRange(_parser.Remarks.Select(remark => Say($"{_file}: {Sentence.Of(remark)}")));
            Close();
        }

        return true;
    }

    public void Dispose() => Close();

    /// <summary>What else it is shows in its first bytes, where they can be read once more.</summary>
    private SettingException Refused(TraceError error) => (IsOnDisk ? SourceFile.KindOf(_file) : SourceKind.Trace) switch
    {
        SourceKind.Bundle => new SettingException(_file, "it is a bundle (or another zip archive), not a trace", "see it with 'diagnostics open', or compare it with 'diagnostics compare'"),
        SourceKind.Report => new SettingException(_file, "it is a report document (or other JSON), not a trace", "write it as a page with 'diagnostics report', or compare it with 'diagnostics compare'"),
        _ => new NotATraceException(_file, error.Message.TrimEnd('.'), "give a pcapng or pcap capture of CAN, or a SocketCAN text log with time stamps"),
    };

    private bool IsOnDisk => !ReferenceEquals(_stream, _standardInput);

    private bool OpenNext()
    {
        if (!_files.TryDequeue(out string? file))
        {
            return false;
        }

        _file = file == StandardInput ? "standard input" : file;
        if (file != StandardInput && Directory.Exists(file))
        {
            throw new SettingException(file, "it is a directory", "name the traces in it, in the order of time, or see the log in it with 'diagnostics open'");
        }

        try
        {
            _stream = file == StandardInput ? _standardInput : new FileStream(file, FileMode.Open, FileAccess.Read, FileShare.ReadWrite, 1, FileOptions.SequentialScan);
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            string why = problem is FileNotFoundException or DirectoryNotFoundException ? "there is no such file" : $"it can't be opened ({problem.Message.TrimEnd('.')})";
            throw new SettingException(file, why, "name a trace that this user may read");
        }

        _parser = TraceParser.Create(_line!, _interfaces);
        return true;
    }

    private void Close()
    {
        if (_stream is not null && IsOnDisk)
        {
            _stream.Dispose();
        }

        _stream = null;
    }
}
