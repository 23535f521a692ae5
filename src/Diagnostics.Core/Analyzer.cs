using Diagnostics.Can;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Core;

/// <summary>
/// The one door into the analysis: frames and time go in, the report document comes out. One owner, no locks, no clock, no I/O.
/// The same sequence of calls gives the same report, whatever the batch sizes.
/// </summary>
public sealed class Analyzer : IFrameSink
{
    private readonly AnalyzerOptions _options;

    public Analyzer(AnalyzerOptions options) => _options = options;

    public void OnInterface(byte index, InterfaceFacts facts)
    {
    }

    public void OnFrame(in CanFrame frame)
    {
    }

    public void OnNotSeen(in NotSeen notSeen)
    {
    }

    /// <summary>Time went on without a frame: a live source says so once a second.</summary>
    public void Advance(Instant now)
    {
    }

    public Report Snapshot() =>
        new(Report.CurrentSchema, new(_options.SourceKind, _options.SourceName, null, null, new(0, 0, 0, [])), [], [], []);
}
