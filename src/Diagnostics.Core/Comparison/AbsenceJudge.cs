using System.Globalization;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Detectors;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Core.Comparison;

/// <summary>
/// Something was found before and not after: is it gone, or would it just not have shown? Gone is said only where, had nothing changed, it would have been found again with 95 % probability;
/// otherwise how much longer one has to listen. The probability is taken
/// <list type="bullet">
/// <item>for damaged frames and errors from the counts themselves: fewer after than the same rate explains (<see cref="TwoRates"/>, one-sided);</item>
/// <item>for what lasted until the end from how long it took to be noticed: if that time is exponential, a second one is 19 times longer than the first in 5 % of cases;</item>
/// <item>for what came and went from its episodes over the heard time, by the same test as the errors: one episode needs 19 times the time before, ten need 0.35 times.</item>
/// </list>
/// In any case the first two minutes are left out, in which detectors learn a site's habits, and ten are the least: several detectors look at ten minutes together.
/// No correction for several findings: "fixed" needs each of them gone, so the chance of saying so wrongly is that of the weakest (intersection-union test: R. L. Berger, Technometrics 24
/// (1982), from memory).
/// Can't be told where the later side could not have shown it: nothing heard, the node not heard, errors not visible, too much lost on our own side.
/// </summary>
internal sealed class AbsenceJudge(BusPair pair, ObservedPeriod after)
{
    /// <summary>Probability that it would have stayed away just so.</summary>
    public const double Doubt = 0.05;

    /// <summary>P(second &gt; 19 × first) = 1/20 for two exponential times of one mean.</summary>
    private const double TimesNoticed = (1 / Doubt) - 1;

    /// <summary>Detectors know what is usual after this (the rhythm of a heartbeat, the longest pause).</summary>
    public const double LearningSeconds = 120;

    /// <summary>What errors, bursts and duplicates are judged over; who listens for less has not listened.</summary>
    private const double LeastSeconds = 600;

    private static readonly string[] NeedErrors =
        [Catalogue.ErrorRate.Name, Catalogue.ErrorBurst.Name, Catalogue.NodeErrors.Name, Catalogue.BusOff.Name, Catalogue.BitRateMismatch.Name];

    /// <summary>
    /// How long a detector holds a finding open behind the last evidence. Within that, one that a log carried over from before says nothing of what came after. Null = until enough was seen
    /// that is clean, whenever that is.
    /// </summary>
    private static readonly Dictionary<string, TimeSpan?> HeldOpen = new(StringComparer.Ordinal)
    {
        [Catalogue.NodeErrors.Name] = NodeErrorsDetector.HoldOff,
        [Catalogue.ErrorBurst.Name] = ErrorBurstDetector.HoldOff,
        [Catalogue.DuplicateAddress.Name] = DuplicateAddressDetector.Over,
        [Catalogue.InputFlapping.Name] = TimeSpan.FromMinutes(FlappingDetector.QuietMinutes + 1),
        [Catalogue.NodeUnstable.Name] = UnstableDetector.MaximumHold,
        [Catalogue.NodeRestarted.Name] = RestartDetector.HoldOff,
        [Catalogue.BusRestarted.Name] = RestartDetector.HoldOff,
        [Catalogue.InputChatter.Name] = null,
        [Catalogue.SupplyDip.Name] = SupplyDipDetector.HoldOff,
    };

    /// <summary>They need a sensor on the board, and some of them an hour in which it learns what is usual.</summary>
    private static readonly string[] Measured = [Catalogue.SupplyLow.Name, Catalogue.SupplyDip.Name, Catalogue.LineLevel.Name];

    /// <summary>They are over when they were noticed, though a detector holds them open for a minute.</summary>
    private static readonly string[] Moments = [Catalogue.NodeRestarted.Name, Catalogue.BusRestarted.Name, Catalogue.NodeReplaced.Name];

    private readonly bool _isIncomplete = after.FindingsRefused || after.Findings.Any(finding =>
        finding.Report.Finding == Catalogue.BusNotSeen.Name && finding.Report.Severity != "note" && finding.Report.Interface == pair.After?.Interface);

    /// <summary>Where the later side begins.</summary>
    public Can.Instant? AfterStart => after.Start;

    /// <param name="Outcome">One of <see cref="ComparedFinding"/>'s.</param>
    /// <param name="Why">One sentence.</param>
    /// <param name="MoreSeconds">How much more must be heard; null where that is no question of time.</param>
    public readonly record struct Judgement(string Outcome, string Why, double? MoreSeconds = null);

    /// <summary>What its absence after proves.</summary>
    public Judgement Of(ObservedFinding finding)
    {
        FindingReport report = finding.Report;
        if (pair.After is not { } later)
        {
            return CannotTell($"{pair.Name} wasn't listened to after.");
        }

        return later.Totals.Frames == 0 || later.Totals.HeardSeconds <= 0
            ? CannotTell("Not one frame was heard after, so nothing could have been found.")
            : Unheard(report, later) ?? Hidden(finding, later) ?? Counted(report, later) ?? Timed(finding, later);
    }

    /// <summary>
    /// A log carried an episode over the cut: whether anything of it came after. Null where it did, or where nothing says otherwise: then it is still there.
    /// </summary>
    public Judgement? OfCarriedOver(ObservedFinding finding, IReadOnlyList<ObservedFinding> again)
    {
        if (pair.After is not { } later || again.Any(carried => carried.Began > 0 || !carried.Lasts || carried.Report.Evidence.Any(row => row.Time > after.Start)))
        {
            return null;
        }

        // A ratio over all that was heard stays high for long after the last error.
        if (Counted(finding.Report, later) is { } counted)
        {
            return counted.Outcome == ComparedFinding.Gone || later.Totals.ErrorEpisodes == 0 ? counted : null;
        }

        if (!HeldOpen.TryGetValue(finding.Report.Finding, out TimeSpan? held))
        {
            return null;
        }

        double heard = later.Totals.HeardSeconds;
        return held is not { TotalSeconds: var seconds } ? CannotTell("It is held to be so until enough operations in a row were clean, and they weren't yet; nothing of it is known after.")
            : heard < seconds ? new(ComparedFinding.NotSeenAgain, Text.Of($"It is held to be so for {Text.Seconds(seconds)} behind the last sign of it, and these aren't over: nothing of it is known after. Listen {Text.Seconds(seconds - heard)} more."), Math.Round(seconds - heard))
            : null;
    }

    /// <summary>Who isn't heard can't show anything; and a silent node that isn't heard at all is as silent as before.</summary>
    private Judgement? Unheard(FindingReport report, ObservedBus later)
    {
        if (Measured.Contains(report.Finding))
        {
            return CannotTell("Whether supply and lines were measured after isn't known here.");
        }

        IReadOnlyList<int> nodes = FindingPairs.NodesOf(report);
        bool isSilence = report.Finding == Catalogue.NodeSilent.Name;
        bool wouldBeHeard = later.Totals.HeardSeconds >= NoticedSeconds(report);
        if (nodes.Count > 0)
        {
            if (later.Nodes.Count == 0)
            {
                return CannotTell("No device was recognised after.");
            }

            int[] unheard = [.. nodes.Where(address => later.Nodes.All(node => node.Address != address))];
            if (unheard.Length == 0)
            {
                return null;
            }

            string who = string.Join(", ", unheard.Select(address => Phrases.Node(address, pair.NameOf(address))));
            return isSilence && wouldBeHeard
                ? new(ComparedFinding.StillThere, Text.Of($"Nothing was heard of {who} in all of the {Text.Seconds(later.Totals.HeardSeconds)} after."))
                : CannotTell($"Nothing was heard of {who} after, and who isn't there shows no trouble.");
        }

        if (report.Id is not { } id || report.Finding == Catalogue.Flood.Name || later.Identifiers?.Any(identifier => identifier.Id == id) == true)
        {
            return null;
        }

        return later.Identifiers is null ? (report.End is null ? CannotTell($"Whether {id} was sent after isn't kept in a log.") : null)
            : isSilence && wouldBeHeard ? new(ComparedFinding.StillThere, Text.Of($"{id} didn't come once in the {Text.Seconds(later.Totals.HeardSeconds)} after."))
            : CannotTell($"{id} wasn't sent after.");
    }

    /// <summary>What the later side could not have shown, however long it listened.</summary>
    private Judgement? Hidden(ObservedFinding finding, ObservedBus later)
    {
        FindingReport report = finding.Report;
        if (_isIncomplete)
        {
            return CannotTell("So much was lost on our own side after that absence proves nothing.");
        }

        if (later.Totals.ErrorEpisodes is null && NeedErrors.Contains(report.Finding))
        {
            return CannotTell(later.ErrorReporting == false
                ? "The adapter that listened after doesn't report errors."
                : "No error message was recorded after, and nothing says that one would have been.");
        }

        if (report.Input is not null && report.Node is int node && later.Identifiers is { } identifiers
            && !identifiers.Any(identifier => identifier.Node == node && identifier.Frames > 0 && !IsService(identifier.Id)))
        {
            return CannotTell($"{Phrases.Node(node, pair.NameOf(node))} reported no inputs at all after.");
        }

        // It is sent once, when the fault comes up; a node that starts anew says so again.
        return report.Finding == Catalogue.ReportsFault.Name && finding.Lasts && later.Nodes.FirstOrDefault(candidate => candidate.Address == report.Node)?.Restarts is not > 0
            ? CannotTell("A node reports a fault once, when it comes up, and it wasn't heard taking this one back: what was recorded later can't show it. Restart the node while you listen.")
            : null;
    }

    /// <summary>Where the events themselves are counted on both sides.</summary>
    private Judgement? Counted(FindingReport report, ObservedBus later)
    {
        (TwoRates rates, string what) = (report.Finding, pair.Before) switch
        {
            ("bus.error-rate", { } earlier) => (RateComparer.Errors(earlier, later), "disturbances"),
            ("node.errors", { } earlier) when report.Node is int node => (OfNode(report, earlier, later, node), "damaged frames"),
            _ => (default, string.Empty),
        };
        if (!rates.IsComparable || rates.Before == 0)
        {
            return null;
        }

        double heard = later.Totals.HeardSeconds;
        double needed = rates.ExposureNeeded(Doubt) / rates.ExposureAfter * heard;
        string counts = Text.Of($"{rates.Before:N0} {what} before, {rates.After:N0} in the {Text.Seconds(heard)} after");
        return Decide(
            heard,
            Math.Max(needed, LearningSeconds + NoticedSeconds(report)),
            $"{counts}: fewer than the same rate explains.",
            $"{counts}",
            rates.ProbabilityOfSoFew);
    }

    /// <summary>A log doesn't count by nodes; but where no error came at all, none hit this node.</summary>
    private static TwoRates OfNode(FindingReport report, ObservedBus earlier, ObservedBus later, int node)
    {
        if (RateComparer.NodeErrors(earlier, later, node) is { IsComparable: true } counted)
        {
            return counted;
        }

        double spoilt = report.Measurements.FirstOrDefault(measurement => measurement.Name == "spoiltFrames")?.Value ?? 0;
        return RateComparer.Errors(earlier, later) is { After: 0, IsComparable: true } all && spoilt >= 1 ? all with { Before = (long)Math.Min(spoilt, ObservedBus.MostCounted) } : default;
    }

    private Judgement Timed(ObservedFinding finding, ObservedBus later)
    {
        FindingReport report = finding.Report;
        double heard = later.Totals.HeardSeconds;
        double noticed = NoticedSeconds(report);
        string used = report.Input is null ? string.Empty : ", if it was used as before";
        if (finding.Lasts && !Moments.Contains(report.Finding))
        {
            double learnt = Math.Max(0, heard - LearningSeconds);
            return Decide(
                heard,
                LearningSeconds + (TimesNoticed * noticed),
                Text.Of($"It lasted until the end and had been noticed within {Text.Seconds(noticed)}; in the {Text.Seconds(heard)} after it was not seen{used}."),
                Text.Of($"It was not seen in the {Text.Seconds(heard)} after{used}; before, it took {Text.Seconds(noticed)} to be noticed"),
                noticed <= 0 ? null : noticed / (noticed + learnt));
        }

        double before = pair.Before?.Totals.HeardSeconds ?? 0;
        TwoRates rates = new(Math.Max(1, finding.Began), before, 0, heard);
        string counts = Text.Of($"{Capital(Phrases.Times(rates.Before))} in {Text.Seconds(before)} before, not once in the {Text.Seconds(heard)} after{used}");
        return Decide(heard, Math.Max(rates.ExposureNeeded(Doubt), LearningSeconds + noticed), $"{counts}.", counts, rates.IsComparable ? rates.ProbabilityOfSoFew : null);
    }

    private static Judgement Decide(double heardSeconds, double neededSeconds, string gone, string notYet, double? probability)
    {
        double more = Math.Max(LeastSeconds, neededSeconds) - heardSeconds;
        if (more <= 0)
        {
            return new(ComparedFinding.Gone, gone);
        }

        if (heardSeconds >= neededSeconds)
        {
            return new(ComparedFinding.NotSeenAgain, Text.Of($"{notYet}: in less than {Text.Seconds(LeastSeconds)} nothing is called gone. Listen {Text.Seconds(more)} more."), Math.Round(more));
        }

        string chance = probability is double p and >= Doubt ? Text.Of($" Had nothing changed, it would look like this in {Math.Clamp(Math.Round(p * 100), 1, 100):0} of 100 cases.") : string.Empty;
        return double.IsFinite(more)
            ? new(ComparedFinding.NotSeenAgain, Text.Of($"{notYet}: too short to tell.{chance} Listen {Text.Seconds(more)} more."), Math.Round(more))
            : CannotTell($"{notYet}: too little to tell.");
    }

    /// <summary>Emergency, SDO answer, error control: sent whatever the inputs do (function codes of the predefined connection set, CiA 301).</summary>
    private static bool IsService(string id) =>
        id.Length == "0x185".Length && int.TryParse(id.AsSpan(2), NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture, out int number) && (number >> 7) is 1 or 11 or 14;

    private static Judgement CannotTell(string why) => new(ComparedFinding.CannotTell, why);

    /// <summary>How long it took from the first evidence until it was sure, s.</summary>
    private static double NoticedSeconds(FindingReport report) => Math.Max(0, report.Raised.SecondsSince(report.Start));

    private static string Capital(string text) => char.ToUpperInvariant(text[0]) + text[1..];
}
