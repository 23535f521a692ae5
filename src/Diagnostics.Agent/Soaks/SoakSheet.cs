using System.Globalization;
using Diagnostics.Agent.Commands;
using Diagnostics.Agent.Pages;
using Diagnostics.Core.Soak;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Soaks;

/// <summary>One part of the hand-over record: a heading, and lines with or without a label.</summary>
internal sealed record SoakPart(Sentence Heading, IReadOnlyList<(Sentence? Label, Sentence Text)> Lines);

/// <summary>
/// The hand-over record of a soak test, before it is paper or text: the verdict, what it rests on, what was asked, heard, proved, found and not seen. Who reads it in
/// three years has nothing else, so numbers stand with what they were counted over.
/// </summary>
/// <param name="Severity">As the page marks it: good, fault, blind or note.</param>
/// <param name="Verdict">One sentence.</param>
/// <param name="Reasons">Why it isn't passed; whole sentences.</param>
/// <param name="Parts">The rest, in order.</param>
internal sealed record SoakSheet(Sentence Title, string Severity, Sentence Verdict, IReadOnlyList<Sentence> Reasons, IReadOnlyList<SoakPart> Parts)
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
            record.Name == SoakRequest.UsualName ? Say($"Soak test") : Say($"Soak test: {record.Name}"),
            verdict.Outcome switch { SoakOutcome.Passed => "good", SoakOutcome.Failed => "fault", SoakOutcome.CannotTell => "blind", _ => "note" },
            Sentence(record, verdict),
            verdict.ReasonsSaid,
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
    public static Sentence Sentence(SoakRecord record, SoakVerdict verdict)
    {
        Sentence listened = SoakVerdict.Hours(record.ListenedSeconds);
        Sentence asked = SoakVerdict.Hours(record.AskedSeconds);
        return verdict.Outcome switch
        {
            SoakOutcome.Passed when verdict.Errors.Any(bus => bus.HoursToProve is not null) => Say($"Passed: {listened} listened, and nothing broke a rule; that is too short to prove the rule for errors."),
            SoakOutcome.Passed => Say($"Passed: {listened} listened, and nothing broke a rule."),
            SoakOutcome.Failed when record.End is null => Say($"Failed already, after {listened} of {asked}."),
            SoakOutcome.Failed => Say($"Failed, in {listened} of listening."),
            SoakOutcome.CannotTell => Say($"It can’t be told: nothing broke a rule, but too little was heard."),
            _ => Say($"Goes on: {listened} of {asked} listened, and nothing has broken a rule so far."),
        };
    }

    private static SoakPart Test(SoakRecord record, Times times, string? site)
    {
        List<(Sentence?, Sentence)> lines = [];
        if (site is not null && site != record.Source)
        {
            lines.Add((Say($"Site"), Named(site)));
        }

        lines.Add((Say($"Listened on"), record.SourceKind == "simulated" ? Say($"{record.Source} – a simulated site, so this says nothing of a real one") : Named(record.Source)));
        lines.Add((Say($"Begun"), times.Full(record.Started)));
        Sentence last = times.Full(record.LastSeen);
        lines.Add((record.End is null ? Say($"As of") : Say($"Ended"), record.End switch
        {
            SoakEnd.Stopped => Say($"{last}, by a person, before its time"),
            SoakEnd.Replaced => Say($"{last}, because another test was begun"),
            _ => last,
        }));
        lines.Add((Say($"Listened"), Say($"{SoakVerdict.Hours(record.ListenedSeconds)} of {SoakVerdict.Hours(record.AskedSeconds)}; only time that was listened counts")));
        lines.Add((Say($"Made by"), Say($"diagnostics, version {CommandLine.Version}")));
        if (times.Remark is { } remark)
        {
            lines.Add((null, remark));
        }

        return new(Say($"The test"), lines);
    }

    private static SoakPart Asked(SoakRules rules) => new(
        Say($"What was asked"),
        [
            (Say($"Fails by"), Listed([.. rules.Fails.Select(word => word switch { "fault" => Say($"any fault"), "warning" => Say($"any warning"), "note" => Say($"any note"), _ => Named(word) })])),
            (Say($"Errors"), rules.MostErrorRatio is not double ratio ? Say($"any")
                : ratio == new SoakRules().MostErrorRatio
                ? Say($"at most {ratio:0.0e+0} of all bits, as measured on an industrial production line (Ferreira et al., RTN 2004); fails where the exact 95 % interval lies wholly above")
                : Say($"at most {ratio:0.0e+0} of all bits; fails where the exact 95 % interval lies wholly above")),
            (Say($"Restarts"), rules.MostRestarts switch
            {
                null => Say($"any"),
                0 => Say($"of nodes, without a reason that the bus shows: none"),
                int restarts => Say($"of nodes, without a reason that the bus shows: at most {restarts:N0}"),
            }),
        ]);

    /// <summary>As its asker called it; who gave it no name reads it in the own language.</summary>
    public static Sentence NameOf(SoakRecord record) => record.Name == SoakRequest.UsualName ? Say($"Soak test") : Named(record.Name);

    private static SoakPart Heard(SoakRecord record)
    {
        List<(Sentence?, Sentence)> lines = [];
        foreach (SoakBus bus in record.Buses)
        {
            lines.Add((Named(bus.Interface), Traffic(bus)));
            Add(Say($"Nodes ({bus.Nodes.Count:N0})"), bus.Nodes, Name);
            IReadOnlyList<SoakNode> silent = bus.NotHeard ?? [];
            Add(Say($"Known from before, and not heard in this test ({silent.Count:N0})"), silent, PlainName);
        }

        if (lines.Count == 0)
        {
            lines.Add((null, Say($"Nothing yet.")));
        }

        return new(Say($"What was heard"), lines);

        void Add(Sentence label, IReadOnlyList<SoakNode> nodes, Func<SoakNode, Sentence> name)
        {
            foreach (SoakNode[] row in nodes.Chunk(NodesInARow))
            {
                lines.Add((label, Listed([.. row.Select(name)])));
                label = Diagnostics.Core.Wording.Sentence.Empty;
            }
        }

        static Sentence Traffic(SoakBus bus)
        {
            Sentence frames = Say($"{bus.Totals.Frames:N0} frames");
            if (bus is { BitRate: int rate, Totals: { LoadBits: double bits, HeardSeconds: > 0 } totals })
            {
                frames = Say($"{frames}, {Words.Percent(bits / totals.HeardSeconds / rate)} of the bus on average");
            }

            Sentence all = bus.BitRate is int known ? Say($"{known:N0} bit/s, {frames}") : frames;
            return bus.ListenOnly switch
            {
                true => Say($"{all}; the adapter only listened"),
                false => Say($"{all}; the adapter took part in the bus"),
                _ => all,
            };
        }

        static Sentence Name(SoakNode node) => node.Present == false ? Say($"{PlainName(node)} (not heard at the end)") : PlainName(node);

        static Sentence PlainName(SoakNode node) => node.Name is { } name ? Named(string.Create(CultureInfo.InvariantCulture, $"{node.Address} {name}")) : Say($"{node.Address}");
    }

    private static SoakPart Proved(SoakRecord record, SoakVerdict verdict)
    {
        List<(Sentence?, Sentence)> lines = [];
        bool areSeveral = record.Buses.Count > 1;
        foreach ((SoakBus bus, SoakErrors errors) in record.Buses.Zip(verdict.Errors))
        {
            Sentence heard = SoakVerdict.Hours(bus.Totals.HeardSeconds);
            lines.Add((areSeveral ? Say($"{bus.Interface}: errors") : Say($"Errors"), errors switch
            {
                { Episodes: null } => Say($"couldn’t be seen: the driver of this interface doesn’t report them. That none is listed means nothing."),
                { Below: not double } => Say($"too little was heard."),
                { Episodes: 0, Below: double below } => Say($"{heard} without an error on {(long)bus.Totals.Bits!.Value:N0} bits prove an error ratio below {below:0.0e+0} (exact Poisson bound, 95 %)."),
                { Episodes: long episodes } => Say($"{Words.Amount(episodes, "disturbance")} on {(long)bus.Totals.Bits!.Value:N0} bits: a ratio between {errors.Low!.Value:0.0e+0} and {errors.High!.Value:0.0e+0} (exact Poisson interval, 95 %)."),
            }));
            if (errors.HoursToProve is double hours && verdict.Outcome != SoakOutcome.Failed)
            {
                lines.Add((null, Say($"That is too short to prove the {record.Rules.MostErrorRatio!.Value:0.0e+0} that is allowed: at this load it takes {Whole(hours)} without an error.")));
            }

            Sentence restarted = areSeveral ? Say($"{bus.Interface}: restarts") : Say($"Restarts");
            if (bus.Totals is { Restarts: 0, HeardSeconds: > 0 and double seconds })
            {
                // The rule of three, exactly: -ln 0.05.
                lines.Add((restarted, Say($"none in {heard}: less than one in {SoakVerdict.Hours(seconds / -Math.Log(0.05))} (95 %).")));
            }
            else if (bus.Totals is { Restarts: > 0 and long restarts })
            {
                lines.Add((restarted, Say($"{restarts:N0} in {heard}.")));
            }
        }

        return new(Say($"What that proves"), lines.Count > 0 ? lines : [(null, Say($"Nothing yet."))]);
    }

    private static SoakPart Found(SoakRecord record, Times times)
    {
        Sentence heading = Say($"What was found");
        if (record.Findings.Count == 0)
        {
            return new(heading, [(null, record.Buses.Any(bus => bus.Totals.Frames > 0) ? Say($"Nothing.") : Say($"Nothing was heard, so nothing could be found."))]);
        }

        // In the order of the report page.
        IEnumerable<SoakFinding> inOrder = record.Findings
            .OrderBy(finding => finding.Severity == "note")
            .ThenBy(finding => finding.End is not null)
            .ThenBy(finding => ToldFinding.Hurt(finding.Severity, finding.Finding, finding.Key.Contains("/node-", StringComparison.Ordinal)));
        return new(heading, [.. inOrder.Select(finding => ((Sentence?)Label(finding), Join(finding.SummarySaid, When(finding))))]);

        Sentence Label(SoakFinding finding)
        {
            Sentence severity = Say($"{Words.Shape(finding.Severity)} {Words.Severity(finding.Severity)}");
            return record.Rules.FailsBy(finding) ? severity : Say($"{severity}, allowed");
        }

        Sentence When(SoakFinding finding) => (finding.End, finding.Episodes > 1) switch
        {
            ({ } end, true) => Say($"From {times.Full(finding.Start)} to {times.Full(end)}, {finding.Episodes:N0} times."),
            ({ } end, _) => Say($"From {times.Full(finding.Start)} to {times.Full(end)}."),
            (_, true) => Say($"From {times.Full(finding.Start)} and still so, {finding.Episodes:N0} times."),
            _ => Say($"From {times.Full(finding.Start)} and still so."),
        };
    }

    private static SoakPart NotSeen(SoakRecord record, Times times)
    {
        List<(Sentence?, Sentence)> lines = [.. record.Interruptions.Select(gap => ((Sentence?)Say($"Not running"), gap.To is { } to
            ? Say($"from {times.Full(gap.From)} to {times.Full(to)}, {Times.Span(to.SecondsSince(gap.From))} (the power was off, or the service was ended)")
            : Say($"from {times.Full(gap.From)} on; for how long nobody can tell, because the board’s clock was behind when it went on")))];
        double known = record.LastSeen.SecondsSince(record.Started) - record.Interruptions.Sum(gap => gap.To is { } to ? to.SecondsSince(gap.From) : 0);
        if (record.Interruptions.All(gap => gap.To is not null) && known - record.ListenedSeconds > 1)
        {
            lines.Add((Say($"Not heard"), Say($"{Times.Span(known - record.ListenedSeconds)} in which the interface was down or the board was late")));
        }

        if (record.LostFrames > 0)
        {
            lines.Add((Say($"Lost"), Say($"{record.LostFrames:N0} frames, on the board’s own side")));
        }

        return new(Say($"What was not seen"), lines.Count > 0 ? lines : [(null, Say($"No pause, and no frame lost that the board knows of."))]);
    }

    public static string Ratio(double ratio) => ratio.ToString("0.0e+0", CultureInfo.InvariantCulture);

    private static Sentence Whole(double hours) => hours < 1 ? Say($"less than an hour") : Say($"{Math.Ceiling(hours):#,0} h");
}
