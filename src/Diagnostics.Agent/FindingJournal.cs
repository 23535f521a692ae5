using Diagnostics.Core.Reporting;
using Microsoft.Extensions.Logging;

namespace Diagnostics.Agent;

/// <summary>One line in the system journal for each finding that is raised, comes back, gets worse or ends.</summary>
internal sealed partial class FindingJournal
{
    private readonly ILogger _logger;
    private readonly Dictionary<string, (int Count, string Severity, bool IsOver)> _told = new(StringComparer.Ordinal);

    public FindingJournal(ILogger logger) => _logger = logger;

    public void OnSnapshot(Report report)
    {
        foreach (FindingReport finding in report.Findings)
        {
            (int Count, string Severity, bool IsOver) now = (finding.Count, finding.Severity, finding.End is not null);
            bool isKnown = _told.TryGetValue(finding.Key, out (int Count, string Severity, bool IsOver) before);
            if ((isKnown && before == now) || (!isKnown && _told.Count >= Limits.RememberedFindings))
            {
                continue;
            }

            _told[finding.Key] = now;
            string summary = SettingException.OneLine(finding.Summary);
            string key = SettingException.OneLine(finding.Key);
            if (!isKnown || before.Count != now.Count || before.Severity != now.Severity)
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
