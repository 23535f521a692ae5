using Diagnostics.Can;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Core.Soak;

/// <summary>
/// Counts what a soak test hears, snapshot by snapshot, on top of what earlier runs of the service had counted. The report's totals go on from the start
/// of a run, so what belongs to the test is the latest less what stood at its beginning. No clock: the snapshot's end is the time.
/// </summary>
public sealed class SoakTest
{
    /// <summary>Findings that are kept in a record; a site with more has failed long ago.</summary>
    public const int MostFindings = 200;

    /// <summary>How soon after a snapshot the next one may be asked for, s: while nothing is heard the rest that is missing doesn't shrink.</summary>
    private const double SoonestSeconds = 0.1;

    private readonly SoakRecord _before;
    private readonly bool _isContinued;
    private Report? _opening;
    private Instant _begin;

    private SoakTest(SoakRecord before, bool isContinued)
    {
        _before = before;
        _isContinued = isContinued;
        Record = before;
    }

    /// <summary>As it stands.</summary>
    public SoakRecord Record { get; private set; }

    /// <summary>When its time is full if all until then is heard, on the line: a snapshot then ends it there, however rarely they come otherwise. Null before the first, and at its end.</summary>
    public Instant? Due { get; private set; }

    /// <param name="id">Tells it from others of one log.</param>
    /// <param name="name">As a person calls it.</param>
    /// <param name="asked">How long it is to listen.</param>
    /// <param name="rules">What it doesn't forgive.</param>
    /// <param name="report">The present, on the line; what it holds doesn't belong to the test.</param>
    /// <param name="wallMinusLine">What to add to get times as the wall clock says them.</param>
    public static SoakTest Begin(string id, string name, TimeSpan asked, SoakRules rules, Report report, TimeSpan wallMinusLine)
    {
        Instant now = report.Source.End ?? default;
        SoakTest test = new(
            new()
            {
                Id = id,
                Name = name,
                Rules = rules,
                AskedSeconds = asked.TotalSeconds,
                Started = now + wallMinusLine,
                LastSeen = now + wallMinusLine,
                Source = report.Source.Name,
                SourceKind = report.Source.Kind,
            },
            isContinued: false)
        {
            _opening = report,
            _begin = now,
        };
        test.OnSnapshot(report, wallMinusLine);
        return test;
    }

    /// <summary>Goes on with a test that the run before left open: all of this run belongs to it.</summary>
    public static SoakTest GoOn(SoakRecord before) => new(before, isContinued: true);

    /// <summary>Ends by itself with the snapshot that completes the time.</summary>
    public void OnSnapshot(Report report, TimeSpan wallMinusLine)
    {
        if (report.Source.End is not { } end || Record.End is not null)
        {
            return;
        }

        if (_isContinued && _opening is null)
        {
            _begin = report.Source.Start ?? end;
        }

        _opening ??= report with { Buses = [], Findings = [], Source = report.Source with { NotSeen = new(0, 0, 0, []) } };
        double listened = report.Buses.Select(bus => Since(bus).HeardSeconds).DefaultIfEmpty(0).Max();
        (IReadOnlyList<SoakFinding> findings, bool refused) = Findings(report, wallMinusLine);
        Instant begin = _begin + wallMinusLine;
        Record = _before with
        {
            Started = _isContinued ? _before.Started : begin,
            LastSeen = end + wallMinusLine,
            ListenedSeconds = _before.ListenedSeconds + listened,
            Buses = Buses(report),
            Findings = findings,
            FindingsRefused = refused || _before.FindingsRefused || report.Source.NotSeen.FindingsRefused,
            Interruptions = _isContinued ? [.. _before.Interruptions, new(_before.LastSeen, begin >= _before.LastSeen ? begin : null)] : _before.Interruptions,
            LostFrames = _before.LostFrames + Lost(report) - Lost(_opening),
        };
        double missing = Record.AskedSeconds - Record.ListenedSeconds;
        Due = end + TimeSpan.FromSeconds(Math.Max(missing, SoonestSeconds));
        if (missing <= 0)
        {
            Close(SoakEnd.Complete);
        }
    }

    /// <summary>Ends it now.</summary>
    public void Close(SoakEnd how)
    {
        Record = Record with { End = Record.End ?? how };
        Due = null;
    }

    private static long Lost(Report report) => report.Source.NotSeen.KernelDropped + report.Source.NotSeen.QueueDropped;

    private Totals Since(BusReport bus)
    {
        BusReport? opening = _opening!.Buses.FirstOrDefault(known => known.Interface == bus.Interface);
        Totals totals = Totals.Of(bus);
        return opening is null ? totals : totals.Since(Totals.Of(opening));
    }

    private IReadOnlyList<SoakBus> Buses(Report report)
    {
        List<SoakBus> buses = [];
        foreach (BusReport bus in report.Buses)
        {
            SoakBus? known = _before.Buses.FirstOrDefault(other => other.Interface == bus.Interface);
            Dictionary<int, SoakNode> nodes = (known?.Nodes ?? []).ToDictionary(node => node.Address, node => node with { Present = node.Present is null ? null : false });
            Dictionary<int, SoakNode> silent = (known?.NotHeard ?? []).ToDictionary(node => node.Address);
            foreach (NodeReport node in bus.Nodes)
            {
                bool isHeard = node.LastHeard >= _begin || nodes.ContainsKey(node.Address);
                (isHeard ? nodes : silent)[node.Address] = new(node.Address, node.Name, node.Present);
            }

            buses.Add(new(bus.Interface, bus.BitRate ?? known?.BitRate, Since(bus).Plus(known?.Totals ?? Totals.None), [.. nodes.Values.OrderBy(node => node.Address)])
            {
                ListenOnly = bus.ListenOnly ?? known?.ListenOnly,
                NotHeard = [.. silent.Values.Where(node => !nodes.ContainsKey(node.Address)).OrderBy(node => node.Address)],
            });
        }

        return [.. _before.Buses.Where(known => report.Buses.All(bus => bus.Interface != known.Interface)), .. buses];
    }

    /// <summary>Those that were open at some time of the test; their episodes before it don't count.</summary>
    private (IReadOnlyList<SoakFinding> Findings, bool Refused) Findings(Report report, TimeSpan wallMinusLine)
    {
        Dictionary<string, SoakFinding> all = _before.Findings.ToDictionary(finding => finding.Key, StringComparer.Ordinal);
        bool refused = false;
        foreach (FindingReport finding in report.Findings)
        {
            FindingReport? opening = _opening!.Findings.FirstOrDefault(other => other.Key == finding.Key);
            int episodes = finding.Count - (opening is null ? 0 : opening.End is null ? opening.Count - 1 : opening.Count);
            if (episodes <= 0)
            {
                continue;
            }

            SoakFinding? known = all.GetValueOrDefault(finding.Key);
            if (known is null && all.Count >= MostFindings)
            {
                refused = true;
                continue;
            }

            all[finding.Key] = new()
            {
                Key = finding.Key,
                Finding = finding.Finding,
                Severity = known is not null && Rank(known.Severity) < Rank(finding.Severity) ? known.Severity : finding.Severity,
                Summary = finding.Summary,
                SummaryWording = finding.SummaryWording,
                Start = known?.Start ?? finding.Start + wallMinusLine,
                End = finding.End + wallMinusLine,
                Episodes = (known?.Episodes ?? 0) + episodes,
            };
        }

        return ([.. all.Values.OrderBy(finding => Rank(finding.Severity)).ThenBy(finding => finding.Start).ThenBy(finding => finding.Key, StringComparer.Ordinal)], refused);
    }

    private static int Rank(string severity) => severity switch
    {
        "fault" => 0,
        "warning" => 1,
        _ => 2,
    };
}
