using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Microsoft.Extensions.Logging;

namespace Diagnostics.Agent;

/// <summary>One line in the system journal for each finding that is raised, comes back, gets worse or ends.</summary>
internal sealed partial class FindingJournal
{
    private readonly ILogger _logger;
    private readonly Dictionary<string, (int Count, string Severity, bool IsOver, Instant Time)> _told = new(StringComparer.Ordinal);

    public FindingJournal(ILogger logger) => _logger = logger;

    public void OnSnapshot(Report report)
    {
        foreach (FindingReport finding in report.Findings)
        {
            (int Count, string Severity, bool IsOver, Instant Time) now = (finding.Count, finding.Severity, finding.End is not null, report.Source.End ?? finding.Raised);
            bool isKnown = _told.TryGetValue(finding.Key, out (int Count, string Severity, bool IsOver, Instant Time) before);
            bool isSame = isKnown && (before.Count, before.Severity) == (now.Count, now.Severity);
            bool goesOn = isSame && before.IsOver && !now.IsOver;
            if ((isSame && before.IsOver == now.IsOver) || (goesOn && now.Time - before.Time < Limits.GoesOnAgain) || (!isKnown && _told.Count >= Limits.RememberedFindings))
            {
                continue;
            }

            _told[finding.Key] = now;
            string summary = SettingException.OneLine(finding.Summary);
            string key = SettingException.OneLine(finding.Key);
            if (!isSame || goesOn)
            {
                LogLevel level = finding.Severity switch { "fault" => LogLevel.Error, "warning" => LogLevel.Warning, _ => LogLevel.Information };
                Raised(level, finding.Severity, finding.Finding, summary, key, finding.Count, Math.Round(finding.Confidence, 3));
            }

            if (now.IsOver && !(isKnown && before.IsOver && before.Count == now.Count))
            {
                Ended(finding.Severity, finding.Finding, summary, key, finding.Count);
            }
        }
    }

    [LoggerMessage(EventId = 1, Message = "raised: {Severity} {Finding}: {Summary} (key {Key}, episode {Count}, confidence {Confidence})")]
    private partial void Raised(LogLevel level, string severity, string finding, string summary, string key, int count, double confidence);

    [LoggerMessage(2, LogLevel.Information, "ended: {Severity} {Finding}: {Summary} (key {Key}, episode {Count})")]
    private partial void Ended(string severity, string finding, string summary, string key, int count);
}
