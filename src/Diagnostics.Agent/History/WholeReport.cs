using Diagnostics.Core.Comparison;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.History;

/// <summary>
/// A report document from outside may leave out what a reader relies on: the JSON reader gives null for a member that is missing or stands as null in a list. This says whether everything that is
/// promised is there, and that counts are such as a bus can give: some are added up, and an exact interval takes the longer the more was counted.
/// </summary>
internal static class WholeReport
{
    /// <summary>No count of a bus comes near: 1 Mbit/s, bit by bit, for thirty years.</summary>
    private const long Most = 1_000_000_000_000_000;

    public static bool Is(Report report) =>
        report is { Source: { Kind: not null, Name: not null, NotSeen: { Gaps: not null } notSeen } }
        && notSeen.Gaps.All(gap => gap is { Why: not null })
        && AllOf(report.Buses, Is)
        && AllOf(report.Findings, Is)
        && AllOf(report.Assurances, assurance => assurance is { Subject: not null, Statement: not null });

    public static bool Is(FindingReport finding) =>
        finding is { Key: not null, Finding: not null, Severity: not null, Summary: not null }
        && AllOf(finding.Measurements, measurement => measurement is { Name: not null, Unit: not null })
        && AllOf(finding.Evidence, evidence => evidence is { Text: not null })
        && AllOf(finding.Causes, cause => cause is { Cause: not null, Why: not null, NextCheck: not null, Expect: not null });

    private static bool Is(BusReport bus) =>
        bus is { Interface: not null, BitRateSource: not null, Protocol: not null, Errors: { } errors }
        && new[] { bus.Frames, errors.Bit, errors.Stuff, errors.Form, errors.Crc, errors.Ack, errors.Other }.All(IsCount)
        && bus.ErrorEpisodes is null or (>= 0 and <= ObservedBus.MostCounted)
        && (bus.Undecodable is null || bus.Undecodable.Values.All(IsCount))
        && AllOf(bus.Nodes, node => node is { Identity: not null, ErrorsOnItsFrames: >= 0 and <= ObservedBus.MostCounted })
        && AllOf(bus.Identifiers, identifier => identifier is { Id: not null });

    private static bool AllOf<T>(IReadOnlyList<T>? items, Func<T, bool> isWhole)
        where T : class => items is not null && items.All(item => item is not null && isWhole(item));

    private static bool IsCount(long count) => count is >= 0 and <= Most;
}
