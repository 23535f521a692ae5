using System.Globalization;
using Diagnostics.Core.Reporting;
using Diagnostics.Simulation;

namespace Diagnostics.Benchmarks.Accuracy;

/// <summary>One planned run: what is staged, on which site, and afterwards what came of it.</summary>
internal sealed class SiteRun
{
    public required ulong Seed { get; init; }

    public required Scenario Scenario { get; init; }

    /// <summary>Set for the runs of T2: a clean bus of 30 nodes.</summary>
    public RandomSiteOptions? Options { get; init; }

    /// <summary>Set for the runs of T5: the bit error ratio, and the severity that its class deserves.</summary>
    public (double Ratio, string? Severity)? Grade { get; init; }

    public bool CanShow { get; private set; } = true;

    public int Node { get; private set; }

    public Site? Site { get; private set; }

    public Report? Report { get; private set; }

    /// <summary>Seconds from the fault to the true finding; null = missed, or nothing to find.</summary>
    public double? Delay { get; private set; }

    /// <summary>Faults and warnings that nothing staged explains.</summary>
    public List<FindingReport> FalseAlarms { get; } = [];

    public int FalseAlarmsBeforeTruth { get; private set; }

    /// <summary>Those that stand for themselves; what follows from another one stands under it.</summary>
    public int MostFindingsInTenMinutes { get; private set; }

    public int Chattering { get; private set; }

    /// <summary>Relative error of the mean load against the wire; null where frames were lost or the clock was played with.</summary>
    public double? LoadError { get; private set; }

    /// <summary>T5: whether a finding has the severity that the ratio deserves, and whether its interval holds the ratio.</summary>
    public bool GradeIsRight { get; private set; }

    public bool? IntervalHoldsRatio { get; private set; }

    public Exception? Failure { get; private set; }

    public double Hours => Scenario.Length.TotalHours;

    public bool IsClean => Scenario.Finding is null && Grade is null;

    public void Execute()
    {
        try
        {
            // The as-built record is known on every second site; the seed decides, so that the same run is the same again.
            Site site = RandomSite.Create(Seed, Options ?? Scenario.Options);
            ModulePlan[] able = [.. site.Modules.Where(module => Scenario.CanShow(site, module))];
            CanShow = able.Length > 0;
            if (!CanShow)
            {
                return;
            }

            Node = able[(int)(Seed % (ulong)able.Length)].Address;
            Site = Scenario.Adapt(site, Node) with { Faults = Scenario.Faults(site, Node) };
            (Report report, SiteSimulation simulation, long wireBits) = Trial.Run(Site, Scenario.Length, withRecord: Seed % 2 == 0);
            Report = report;
            Judge(report, simulation, wireBits);
        }
        catch (Exception failure) when (failure is not OutOfMemoryException)
        {
            Failure = failure;
        }
    }

    private void Judge(Report report, SiteSimulation simulation, long wireBits)
    {
        GroundTruth? truth = simulation.Truth.FirstOrDefault();
        FindingReport? found = Scenario.Finding is null ? null : report.Findings.Where(finding => IsTrue(finding, truth)).MinBy(finding => finding.Raised);
        Delay = found is not null && truth is not null ? (found.Raised.Nanoseconds - truth.Start.Nanoseconds) / 1e9 : null;
        FindingReport[] loud = [.. report.Findings.Where(finding => finding.Severity is "fault" or "warning")];
        FalseAlarms.AddRange(loud.Where(finding => finding.Finding != Scenario.Finding && !Scenario.Allowed.Contains(finding.Finding)));
        FalseAlarms.AddRange(loud.Where(finding => finding.Finding == Scenario.Finding && !IsTrue(finding, truth)));

        // Whatever is raised before the fault began is false, even if it would follow from it. A second is left for the observer's clock, which isn't the site's.
        if (truth is not null && Scenario.Finding is not null)
        {
            FalseAlarms.AddRange(loud.Where(finding => truth.Start - finding.Raised > TimeSpan.FromSeconds(1) && !FalseAlarms.Contains(finding)));
        }

        FalseAlarmsBeforeTruth = FalseAlarms.Count(finding => found is null || finding.Raised < found.Raised);
        FindingReport[] leading = [.. loud.Where(finding => finding.ExplainedBy is null)];
        foreach (FindingReport first in leading)
        {
            MostFindingsInTenMinutes = Math.Max(MostFindingsInTenMinutes, leading.Count(finding => finding.Raised >= first.Raised && (finding.Raised - first.Raised).TotalMinutes < 10));
        }

        Chattering = report.Findings.Count(finding => finding.Count >= 3 && finding.Count / Math.Max(1, ((report.Source.End ?? finding.Start) - finding.Start).TotalMinutes) >= 3);
        BusReport bus = report.Buses[0];
        if (Scenario.Name == "nothing" && bus.LoadMean is double load && report.Source is { Start: { } start, End: { } end })
        {
            double wire = wireBits / ((end.Nanoseconds - start.Nanoseconds) / 1e9 * Site!.BitRate);
            LoadError = Math.Abs(load - wire) / wire;
        }

        if (Grade is { } grade)
        {
            FindingReport? rate = report.Findings.FirstOrDefault(finding => finding.Finding == "bus.error-rate");
            GradeIsRight = rate?.Severity == grade.Severity;
            if (rate?.Measurements.FirstOrDefault(each => each.Name == "bitErrorRatio") is { Low: double low, High: double high })
            {
                IntervalHoldsRatio = low <= grade.Ratio && grade.Ratio <= high;
            }
        }
    }

    /// <summary>The right finding at the right place: a node or input that is named must be the one where it was staged.</summary>
    private bool IsTrue(FindingReport finding, GroundTruth? truth)
    {
        if (finding.Finding != Scenario.Finding)
        {
            return false;
        }

        if (Scenario.IsOurs)
        {
            return finding.Node is null;
        }

        bool aboutNode = finding.Node is not null || finding.Finding.StartsWith("node.", StringComparison.Ordinal) || finding.Finding.StartsWith("input.", StringComparison.Ordinal);
        bool rightNode = !aboutNode || finding.Node == Node || IsSentByNode(finding) || (finding.Nodes?.Contains(Node) ?? false)
            || (Site!.Faults is [SupplyDip dip] && finding.Node is int node && dip.Nodes.Contains(node));
        return rightNode && (truth?.Input is null || finding.Input is null || finding.Input == truth.Input);
    }

    /// <summary>Where no protocol is known a finding names the identifier instead of the node: one of the staged node's own is the right place.</summary>
    private bool IsSentByNode(FindingReport finding) =>
        finding is { Node: null, Nodes: null, Id: string id }
        && uint.Parse(id.AsSpan(2), NumberStyles.HexNumber, CultureInfo.InvariantCulture) is uint number
        && (number & 0x7F) == Node && (number >> 7) is 1 or 3 or 5 or 7 or 9 or 11 or 14;
}
