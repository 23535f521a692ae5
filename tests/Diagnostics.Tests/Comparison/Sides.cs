using Diagnostics.Can;
using Diagnostics.Core.Comparison;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Tests.Comparison;

/// <summary>Invented sides of a comparison at the Wrenfield community library: fourteen modules, one bus, as long as is said.</summary>
internal static class Sides
{
    public static readonly Instant Monday = Instant.FromDateTime(new DateTimeOffset(2026, 11, 23, 8, 0, 0, TimeSpan.Zero));

    public static ObservedPeriod Side(double hours, params ObservedFinding[] findings) => Of("before.pcapng", hours, Bus(hours), findings);

    public static ObservedPeriod Of(string name, double hours, ObservedBus bus, params ObservedFinding[] findings) =>
        new("trace", name, Monday, Monday + TimeSpan.FromHours(hours), [bus], findings);

    /// <summary>40,000 bits and 800 frames a minute of fourteen nodes, no error and no restart.</summary>
    public static ObservedBus Bus(double hours, string name = "can0") =>
        new(name, new(hours * 3600, (long)(hours * 48_000), hours * 2_400_000, 0, 0), [.. Enumerable.Range(1, 14).Select(address => Node(address, hours))]) { ErrorReporting = true };

    public static ObservedNode Node(int address, double hours) => new(address, address == 9 ? "café dimmers" : null)
    {
        IsPresent = true,
        Frames = (long)(hours * 3_400),
        Errors = 0,
        Restarts = 0,
        SilenceNoticedWithinSeconds = 3.5,
    };

    public static ObservedBus Without(ObservedBus bus, params int[] addresses) => bus with { Nodes = [.. bus.Nodes.Where(node => !addresses.Contains(node.Address))] };

    public static ObservedBus With(ObservedBus bus, int address, Func<ObservedNode, ObservedNode> change) =>
        bus with { Nodes = [.. bus.Nodes.Select(node => node.Address == address ? change(node) : node)] };

    public static ObservedBus WithErrors(ObservedBus bus, long? episodes) => bus with { Totals = bus.Totals with { ErrorEpisodes = episodes } };

    /// <summary>A finding that began at the side's start and took this long to be noticed.</summary>
    public static ObservedFinding Finding(FindingKind kind, int? node = null, long began = 1, bool lasts = false, double noticedSeconds = 30, int[]? nodes = null, int? input = null, string? id = null, string? severity = null, string name = "can0")
    {
        string subject = node is int one ? $"node-{one}" : nodes is not null ? "nodes-" + string.Join('-', nodes) : id ?? "bus";
        return new(
            new()
            {
                Key = $"{kind.Name}/{name}/{subject}{(input is int number ? $".input-{number}" : string.Empty)}",
                Finding = kind.Name,
                Severity = severity ?? kind.Usual.ToString().ToLowerInvariant(),
                Interface = name,
                Node = node,
                Nodes = nodes,
                Input = input,
                Id = id,
                Start = Monday,
                Raised = Monday + TimeSpan.FromSeconds(noticedSeconds),
                End = lasts ? null : Monday + TimeSpan.FromMinutes(20),
                Count = (int)Math.Max(1, began),
                Confidence = 0.95,
                Summary = "It happened.",
                Measurements = [],
                Evidence = [],
                Causes = [],
            },
            began,
            lasts);
    }

    public static ComparedFinding The(this ComparisonReport comparison, FindingKind kind, int? node = null) =>
        Assert.Single(comparison.Findings, finding => finding.Finding == kind.Name && finding.Node == node);
}
