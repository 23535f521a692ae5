using System.Text.Json.Serialization;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Detectors;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Soak;

/// <summary>What a soak test shows.</summary>
public enum SoakOutcome
{
    /// <summary>It goes on, and nothing speaks against it so far.</summary>
    SoFarGood,

    /// <summary>Everything that was asked was heard, and no rule was broken.</summary>
    Passed,

    /// <summary>A rule was broken, while it goes on or at its end.</summary>
    Failed,

    /// <summary>No rule was broken as far as was heard, but too little was.</summary>
    CannotTell,
}

/// <summary>What errors on one interface say about it, by the exact Poisson interval (F. Garwood, Biometrika 28 (1936)) at 95 %.</summary>
/// <param name="Interface">Its name.</param>
/// <param name="Episodes">Errors 50 ms or more apart; null = they couldn't be seen.</param>
/// <param name="Bits">Bits on the wire; null = not known.</param>
/// <param name="Low">Errors per bit, lower end.</param>
/// <param name="High">Errors per bit, upper end of the same two-sided interval.</param>
/// <param name="Below">Errors per bit that are proved not to be exceeded (one-sided).</param>
/// <param name="HoursToProve">Hours without an error that would prove the allowed ratio at this load; null where it is proved, no ratio is asked for, or nothing was heard.</param>
public sealed record SoakErrors(string Interface, long? Episodes, double? Bits, double? Low, double? High, double? Below, double? HoursToProve);

/// <summary>Judges a soak test by its rules. A broken rule is told before what can't be told: it stays broken.</summary>
/// <param name="Outcome">In one word.</param>
/// <param name="ReasonsSaid">Whole sentences: broken rules, or what keeps it from being judged.</param>
/// <param name="Errors">For each interface.</param>
public sealed record SoakVerdict(SoakOutcome Outcome, [property: JsonIgnore] IReadOnlyList<Sentence> ReasonsSaid, IReadOnlyList<SoakErrors> Errors)
{
    /// <summary>In English.</summary>
    public IReadOnlyList<string> Reasons => [.. ReasonsSaid.Select(reason => reason.English)];

    /// <summary>Beyond this share of lost frames the record has holes everywhere, and what was not found says little.</summary>
    private const double MostLostRatio = 0.01;

    public static SoakVerdict Of(SoakRecord record)
    {
        SoakErrors[] errors = [.. record.Buses.Select(bus => ErrorsOf(bus, record.Rules.MostErrorRatio))];
        List<Sentence> broken = Broken(record, errors);
        if (broken.Count > 0)
        {
            return new(SoakOutcome.Failed, broken, errors);
        }

        List<Sentence> missing = Missing(record);
        return record.End is null ? new(SoakOutcome.SoFarGood, missing, errors)
            : missing.Count > 0 ? new(SoakOutcome.CannotTell, missing, errors)
            : new(SoakOutcome.Passed, [], errors);
    }

    private static SoakErrors ErrorsOf(SoakBus bus, double? allowed)
    {
        if (ErrorRatio.Of(bus.Totals.ErrorEpisodes, bus.Totals.Bits) is not { } ratio)
        {
            return new(bus.Interface, bus.Totals.ErrorEpisodes, bus.Totals.Bits, null, null, null, null);
        }

        double? hours = allowed is double limit && ratio.Below > limit
            ? ExactIntervals.PoissonUpper(0, ErrorRatio.ConfidenceLevel) / limit / (bus.Totals.Bits!.Value / bus.Totals.HeardSeconds) / 3600
            : null;
        return new(bus.Interface, bus.Totals.ErrorEpisodes, bus.Totals.Bits, ratio.Low, ratio.High, ratio.Below, hours);
    }

    private static List<Sentence> Broken(SoakRecord record, SoakErrors[] errors)
    {
        List<Sentence> broken = [.. record.Findings.Where(record.Rules.FailsBy).Select(finding => Told(finding, record))];
        if (record.FindingsRefused)
        {
            broken.Add(Say($"More was found than can be listed."));
        }

        long restarts = record.Buses.Sum(bus => bus.Totals.Restarts ?? 0);
        if (record.Rules.MostRestarts is int allowed && restarts > allowed)
        {
            broken.Add((restarts == 1, allowed) switch
            {
                (true, _) => Say($"Nodes restarted once without a reason that the bus shows; none is allowed."),
                (_, 0) => Say($"Nodes restarted {restarts} times without a reason that the bus shows; none is allowed."),
                (_, 1) => Say($"Nodes restarted {restarts} times without a reason that the bus shows; one is allowed."),
                _ => Say($"Nodes restarted {restarts} times without a reason that the bus shows; {allowed} are allowed."),
            });
        }

        if (record.Rules.MostErrorRatio is double limit)
        {
            broken.AddRange(errors.Where(bus => bus.Low > limit).Select(bus => Say($"On {bus.Interface} at least {bus.Low!.Value:0.0e+0} of all bits were hit by an error; {limit:0.0e+0} is allowed.")));
        }

        return broken;
    }

    /// <summary>A finding counts since it began, which the reader of a record of this test must know.</summary>
    private static Sentence Told(SoakFinding finding, SoakRecord record) =>
        finding.Start < record.Started ? Join(finding.SummarySaid, Say($"That began before this test, and its numbers count from then.")) : finding.SummarySaid;

    private static List<Sentence> Missing(SoakRecord record)
    {
        List<Sentence> missing = [];
        if (record.End is not null && record.ListenedSeconds < record.AskedSeconds)
        {
            missing.Add(Say($"It was ended after {Hours(record.ListenedSeconds)} of {Hours(record.AskedSeconds)}."));
        }

        if (record.Buses.All(bus => bus.Totals.Frames == 0))
        {
            missing.Add(Say($"Nothing was heard."));
            return missing;
        }

        foreach (SoakBus bus in record.Buses)
        {
            if (bus.Totals.Frames == 0)
            {
                missing.Add(Say($"Nothing was heard on {bus.Interface}."));
            }
            else if (bus.Totals.ErrorEpisodes is null && record.Rules.MostErrorRatio is not null)
            {
                missing.Add(Say($"Errors on {bus.Interface} couldn't be seen: its driver doesn't report them. Use an adapter that does, or leave errors out of the rules."));
            }
        }

        long frames = record.Buses.Sum(bus => bus.Totals.Frames);
        if (record.LostFrames > MostLostRatio * (frames + record.LostFrames))
        {
            missing.Add(Say($"{Text.Percent(record.LostFrames / (double)(frames + record.LostFrames))} of all frames were lost on the board's own side."));
        }

        return missing;
    }

    /// <summary>To the tenth of an hour, to the minute below an hour, or to the second below a minute.</summary>
    public static Sentence Hours(double seconds) => seconds < 60 ? Say($"{Math.Floor(seconds):0} s") : seconds < 3600 ? Say($"{Math.Floor(seconds / 60):0} min") : Say($"{Math.Floor(seconds / 360) / 10:0.#} h");
}
