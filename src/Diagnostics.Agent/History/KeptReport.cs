using Diagnostics.Can;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.History;

/// <summary>
/// Says when the last report document goes beside the log, so that a log can be read without the service that wrote it: every ten minutes, within a minute of something new, and
/// at the end of a run. 60 KB each time are 9 MB a day, a twentieth of what a card may take.
/// </summary>
internal sealed class KeptReport(TimeProvider clock)
{
    /// <summary>Without news.</summary>
    public static readonly TimeSpan UsualInterval = TimeSpan.FromMinutes(10);

    /// <summary>With news, and after a start, whose first report has nothing to say yet.</summary>
    public static readonly TimeSpan ShortestInterval = TimeSpan.FromMinutes(1);

    private long _last = clock.GetTimestamp();
    private (int Findings, Instant? Start)? _kept;

    /// <param name="report">The latest; null where there is none.</param>
    /// <param name="isEnd">The run ends.</param>
    /// <returns>The document that is to be kept now, or null.</returns>
    public byte[]? TakeDue(Report? report, bool isEnd)
    {
        if (report is not { Source.End: not null })
        {
            return null;
        }

        // A finding that wasn't there before, or the board was told the time. One that comes and goes for days is no news, or it would wear the card.
        (int, Instant?) now = (report.Findings.Count, report.Source.Start);
        if (!isEnd && clock.GetElapsedTime(_last) < (now != _kept ? ShortestInterval : UsualInterval))
        {
            return null;
        }

        _last = clock.GetTimestamp();
        _kept = now;
        return ReportJson.ToUtf8(report);
    }
}
