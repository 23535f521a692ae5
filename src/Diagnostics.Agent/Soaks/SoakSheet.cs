using System.Globalization;
using Diagnostics.Agent.Commands;
using Diagnostics.Agent.Pages;
using Diagnostics.Core.Soak;

namespace Diagnostics.Agent.Soaks;

/// <summary>One part of the hand-over record: a heading, and lines with or without a label.</summary>
internal sealed record SoakPart(string Heading, IReadOnlyList<(string? Label, string Text)> Lines);

/// <summary>
/// The hand-over record of a soak test, before it is paper or text: the verdict, what it rests on, what was asked, heard, proved, found and not seen. Who reads it in
/// three years has nothing else, so numbers stand with what they were counted over.
/// </summary>
/// <param name="Severity">As the page marks it: good, fault, blind or note.</param>
/// <param name="Verdict">One sentence.</param>
/// <param name="Reasons">Why it isn't passed; whole sentences.</param>
/// <param name="Parts">The rest, in order.</param>
internal sealed record SoakSheet(string Title, string Severity, string Verdict, IReadOnlyList<string> Reasons, IReadOnlyList<SoakPart> Parts)
{
    /// <summary>Names are long, and a line of them must stay below <see cref="Limits.ShownText"/>.</summary>
    private const int NodesInARow = 6;

    /// <param name="record">The test.</param>
    /// <param name="zone">Of the reader.</param>
    /// <param name="site">Name of the site, where the as-built record tells.</param>
    public static SoakSheet Of(SoakRecord record, TimeZoneInfo zone, string? site)
    {
        SoakVerdict verdict = SoakVerdict.Of(record);
        Times times = new(new("live", record.Source, record.Started, record.LastSeen, new(0, 0, 0, [])), zone);
        return new(
            $"Soak test: {record.Name}",
            verdict.Outcome switch { SoakOutcome.Passed => "good", SoakOutcome.Failed => "fault", SoakOutcome.CannotTell => "blind", _ => "note" },
            Sentence(record, verdict),
            verdict.Reasons,
            [
                Test(record, times, site),
                Asked(record.Rules),
                Heard(record),
                Proved(record, verdict),
                Found(record, times),
                NotSeen(record, times),
            ]);
    }

    /// <summary>The verdict in one sentence, with what it rests on.</summary>
    public static string Sentence(SoakRecord record, SoakVerdict verdict)
    {
        string listened = SoakVerdict.Hours(record.ListenedSeconds);
        string asked = SoakVerdict.Hours(record.AskedSeconds);
        return verdict.Outcome switch
        {
            SoakOutcome.Passed when verdict.Errors.Any(bus => bus.HoursToProve is not null) => $"Passed: {listened} listened, and nothing broke a rule; that is too short to prove the rule for errors.",
            SoakOutcome.Passed => $"Passed: {listened} listened, and nothing broke a rule.",
            SoakOutcome.Failed when record.End is null => $"Failed already, after {listened} of {asked}.",
            SoakOutcome.Failed => $"Failed, in {listened} of listening.",
            SoakOutcome.CannotTell => "It can’t be told: nothing broke a rule, but too little was heard.",
            _ => $"Goes on: {listened} of {asked} listened, and nothing has broken a rule so far.",
        };
    }

    private static SoakPart Test(SoakRecord record, Times times, string? site)
    {
        List<(string?, string)> lines = [];
        if (site is not null && site != record.Source)
        {
            lines.Add(("Site", site));
        }

        lines.Add(("Listened on", record.Source + (record.SourceKind == "simulated" ? " – a simulated site, so this says nothing of a real one" : string.Empty)));
        lines.Add(("Begun", times.Full(record.Started)));
        lines.Add((record.End is null ? "As of" : "Ended", times.Full(record.LastSeen) + record.End switch
        {
            SoakEnd.Stopped => ", by a person, before its time",
            SoakEnd.Replaced => ", because another test was begun",
            _ => string.Empty,
        }));
        lines.Add(("Listened", $"{SoakVerdict.Hours(record.ListenedSeconds)} of {SoakVerdict.Hours(record.AskedSeconds)}; only time that was listened counts"));
        lines.Add(("Made by", "diagnostics, version " + CommandLine.Version));
        if (times.Remark is { } remark)
        {
            lines.Add((null, remark));
        }

        return new("The test", lines);
    }

    private static SoakPart Asked(SoakRules rules) => new(
        "What was asked",
        [
            ("Fails by", string.Join(", ", rules.Fails.Select(word => word switch { "fault" => "any fault", "warning" => "any warning", "note" => "any note", _ => word }))),
            ("Errors", rules.MostErrorRatio is double ratio
                ? $"at most {Ratio(ratio)} of all bits{(ratio == new SoakRules().MostErrorRatio ? ", as measured on an industrial production line (Ferreira et al., RTN 2004)" : string.Empty)}; fails where the exact 95 % interval lies wholly above"
                : "any"),
            ("Restarts", rules.MostRestarts is int restarts ? $"of nodes, without a reason that the bus shows: {(restarts == 0 ? "none" : "at most " + Words.Count(restarts))}" : "any"),
        ]);

    private static SoakPart Heard(SoakRecord record)
    {
        List<(string?, string)> lines = [];
        foreach (SoakBus bus in record.Buses)
        {
            string load = bus is { BitRate: int rate, Totals: { Bits: double bits, HeardSeconds: > 0 } totals } ? $", {Words.Percent(bits / totals.HeardSeconds / rate)} of the bus on average" : string.Empty;
            lines.Add((bus.Interface, $"{(bus.BitRate is int known ? Words.Count(known) + " bit/s, " : string.Empty)}{Words.Count(bus.Totals.Frames)} frames{load}{bus.ListenOnly switch { true => "; the adapter only listened", false => "; the adapter took part in the bus", _ => string.Empty }}"));
            string label = $"Nodes ({Words.Count(bus.Nodes.Count)})";
            foreach (SoakNode[] row in bus.Nodes.Chunk(NodesInARow))
            {
                lines.Add((label, string.Join(", ", row.Select(Name))));
                label = string.Empty;
            }
        }

        if (lines.Count == 0)
        {
            lines.Add((null, "Nothing yet."));
        }

        return new("What was heard", lines);

        static string Name(SoakNode node) =>
            (node.Name is null ? node.Address.ToString(CultureInfo.InvariantCulture) : $"{node.Address} {node.Name}") + (node.Present == false ? " (not heard at the end)" : string.Empty);
    }

    private static SoakPart Proved(SoakRecord record, SoakVerdict verdict)
    {
        List<(string?, string)> lines = [];
        foreach ((SoakBus bus, SoakErrors errors) in record.Buses.Zip(verdict.Errors))
        {
            string name = record.Buses.Count > 1 ? bus.Interface + ": errors" : "Errors";
            string heard = SoakVerdict.Hours(bus.Totals.HeardSeconds);
            lines.Add((name, errors switch
            {
                { Episodes: null } => "couldn’t be seen: the driver of this interface doesn’t report them. That none is listed means nothing.",
                { Below: not double } => "too little was heard.",
                { Episodes: 0, Below: double below } => $"{heard} without an error on {Words.Count((long)bus.Totals.Bits!.Value)} bits prove an error ratio below {Ratio(below)} (exact Poisson bound, 95 %).",
                { Episodes: long episodes } => $"{Pages.Verdict.Amount(episodes, "error")} on {Words.Count((long)bus.Totals.Bits!.Value)} bits: a ratio between {Ratio(errors.Low!.Value)} and {Ratio(errors.High!.Value)} (exact Poisson interval, 95 %).",
            }));
            if (errors.HoursToProve is double hours && verdict.Outcome != SoakOutcome.Failed)
            {
                lines.Add((null, $"That is too short to prove the {Ratio(record.Rules.MostErrorRatio!.Value)} that is allowed: at this load it takes {Whole(hours)} without an error."));
            }

            if (bus.Totals is { Restarts: 0, HeardSeconds: > 0 and double seconds })
            {
                // The rule of three, exactly: -ln 0.05.
                lines.Add((record.Buses.Count > 1 ? bus.Interface + ": restarts" : "Restarts", $"none in {heard}: less than one in {SoakVerdict.Hours(seconds / -Math.Log(0.05))} (95 %)."));
            }
            else if (bus.Totals is { Restarts: > 0 and long restarts })
            {
                lines.Add((record.Buses.Count > 1 ? bus.Interface + ": restarts" : "Restarts", $"{Words.Count(restarts)} in {heard}."));
            }
        }

        return new("What that proves", lines.Count > 0 ? lines : [(null, "Nothing yet.")]);
    }

    private static SoakPart Found(SoakRecord record, Times times) => new(
        "What was found",
        record.Findings.Count == 0
            ? [(null, record.Buses.Any(bus => bus.Totals.Frames > 0) ? "Nothing." : "Nothing was heard, so nothing could be found.")]
            : [.. record.Findings.Select(finding => (
                (string?)$"{Words.Shape(finding.Severity)} {Words.Severity(finding.Severity)}{(record.Rules.FailsBy(finding) ? string.Empty : ", allowed")}",
                $"{finding.Summary} From {times.Full(finding.Start)} {(finding.End is { } end ? "to " + times.Full(end) : "and still so")}{(finding.Episodes > 1 ? $", {Words.Count(finding.Episodes)} times" : string.Empty)}."))]);

    private static SoakPart NotSeen(SoakRecord record, Times times)
    {
        List<(string?, string)> lines = [.. record.Interruptions.Select(gap => ((string?)"Not running", gap.To is { } to
            ? $"from {times.Full(gap.From)} to {times.Full(to)}, {Times.Span(to.SecondsSince(gap.From))} (the power was off, or the service was ended)"
            : $"from {times.Full(gap.From)} on; for how long nobody can tell, because the board’s clock was behind when it went on"))];
        double known = record.LastSeen.SecondsSince(record.Started) - record.Interruptions.Sum(gap => gap.To is { } to ? to.SecondsSince(gap.From) : 0);
        if (record.Interruptions.All(gap => gap.To is not null) && known - record.ListenedSeconds > 1)
        {
            lines.Add(("Not heard", $"{Times.Span(known - record.ListenedSeconds)} in which the interface was down or the board was late"));
        }

        if (record.LostFrames > 0)
        {
            lines.Add(("Lost", $"{Words.Count(record.LostFrames)} frames, on the board’s own side"));
        }

        return new("What was not seen", lines.Count > 0 ? lines : [(null, "No pause, and no frame lost that the board knows of.")]);
    }

    public static string Ratio(double ratio) => ratio.ToString("0.0e+0", CultureInfo.InvariantCulture);

    private static string Whole(double hours) => hours < 1 ? "less than an hour" : string.Create(CultureInfo.InvariantCulture, $"{Math.Ceiling(hours):#,0} h");
}
