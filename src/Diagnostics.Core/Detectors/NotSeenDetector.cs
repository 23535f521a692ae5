using Diagnostics.Can;
using Diagnostics.Core.Diagnosis;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Symptom: our own blindness. Limit: any frame or record known to be lost, or any time not heard, is a note; more than 1 % of the frames, or 5 % of the
/// time, is a warning. Why: with less the counts stay good to a hundredth, and detectors of absence hold back by themselves.
/// A leap of the stamps that may as well have been silence of the bus is a note and no more than as likely as not, however long: nothing need have been lost.
/// Losses that nobody reports show as missed beats of all regular senders (<see cref="Counting.LossEstimate"/>); ten of them are enough to say so, and
/// a warning asks for a 95 % interval wholly above 1 %. Ten, because a few may have one reason at the site that all senders share.
/// </summary>
/// <param name="bus">Whose.</param>
/// <param name="isTrace">Read from a file, whose stamps a reader may look up.</param>
internal sealed class NotSeenDetector(Bus bus, bool isTrace)
{
    /// <summary>A shorter time not heard isn't worth naming: then it was the clock that stepped.</summary>
    private static readonly TimeSpan Noticeable = TimeSpan.FromMilliseconds(1);
    private const double LostRatioOfWarning = 0.01;
    private const double TimeRatioOfWarning = 0.05;
    private const int MissesNeeded = 10;
    private const double EvenOdds = 0.5;
    private static readonly TimeSpan HoldOff = TimeSpan.FromMinutes(1);

    private Instant _told = Instant.MinValue;

    public void OnSecond(Instant now)
    {
        Instant blindUntil = bus.Ledger.BlindUntil(bus.Index);
        if (blindUntil != Instant.MinValue && blindUntil != _told && blindUntil <= now)
        {
            _told = blindUntil;
            TellReported(now);
        }

        // Without a known protocol regular senders may pause for reasons of their own, all of them together: silence is judged with care, but nothing is claimed.
        if (bus.Protocol.IsCanOpen && bus.Loss.Pooled.Missed >= MissesNeeded)
        {
            TellUnreported(now);
        }
    }

    private void TellReported(Instant now)
    {
        long lost = bus.Ledger.LostFrames(bus.Index);
        TimeSpan notRecorded = bus.Ledger.NotRecorded(bus.Index);
        TimeSpan notHeard = bus.Ledger.NotHeard(bus.Index) - notRecorded;
        TimeSpan unknown = bus.Ledger.Unknown(bus.Index);
        double lostRatio = lost / (double)Math.Max(1, lost + bus.Frames);
        double timeRatio = notHeard / (now - Instant.Min(bus.Start + notRecorded, now - TimeSpan.FromSeconds(1)));
        bool isLoss = lost > 0 || notHeard >= Noticeable;
        bool isDoubt = !isLoss && unknown > TimeSpan.Zero;
        Finding finding = Raise(isDoubt ? Instant.Max(bus.Start, _told - unknown) : _told, now, lostRatio > LostRatioOfWarning || timeRatio > TimeRatioOfWarning);
        finding.Confidence = isDoubt ? EvenOdds : 1;
        Sentence summary = lost > 0 ? Say(
                lost,
                $"This recorder itself lost at least {lost:N0} frame or record; silence around those moments proves nothing.",
                $"This recorder itself lost at least {lost:N0} frames or records; silence around those moments proves nothing.")
            : notHeard >= Noticeable ? Say($"This recorder couldn't hear the bus for {Text.Seconds(notHeard.TotalSeconds)} in all; silence around those moments proves nothing.")
            : isDoubt ? Say($"This recorder's clock stepped forward, or the bus was silent, for {Text.Seconds(unknown.TotalSeconds)} in all: which of the two can't be told, and silence around those moments proves nothing.")
            : Say($"This recorder's clock stepped; how long anything was silent around that moment isn't known.");
        finding.Tell(isTrace && bus.Ledger.StepsTakenOut > 0
            ? Join(summary, Say($"From a step of its clock on, times here aren't the file's stamps: a step forward is taken off them, a step back put on."))
            : summary);
        finding.Measurements =
        [
            .. isLoss ? (MeasurementReport[])[new("lostRatio", Math.Round(lostRatio, 6), "1"), new("notHeard", Math.Round(notHeard.TotalSeconds, 3), "s")] : [],
            .. unknown > TimeSpan.Zero ? (MeasurementReport[])[new("unknownTime", Math.Round(unknown.TotalSeconds, 3), "s")] : [],
        ];
        finding.AddEvidence(_told, Say($"Whole again from here on."));
        finding.Causes = isDoubt
            ? Causes.Of(
                    (Cause.AdapterLimit, 1, Say($"The recorder's clock may have been set then; nothing is missing in that case.")),
                    (Cause.Unknown, 1, Say($"The bus may have been silent: nobody sent, or nobody could.")))
                .Advise(
                    Cause.AdapterLimit,
                    Say($"Look into the recorder's own journal, or ask who recorded it, whether its clock was set at that moment."),
                    Say($"It was set forward by so much: nothing is missing. It wasn't: the bus was silent for so long."),
                    null)
            : Causes.Of((Cause.AdapterLimit, 8, Say($"The board, the adapter or the trace lost it, not the bus.")));
    }

    private void TellUnreported(Instant now)
    {
        (int due, int missed) = bus.Loss.Pooled;
        (double low, double high) = bus.Loss.Interval;
        double ratio = missed / (double)due;
        bool isNew = !bus.Book.IsOpen(Catalogue.BusNotSeen, bus.Name, Subject.WholeBus);
        Finding finding = Raise(now, now, low > LostRatioOfWarning);
        finding.Tell(bus.Loss.MissesAllowed is int misses
            ? Say($"About {100 * ratio:0.#} % of the expected frames never arrived, from all modules alike, and nobody reported a loss; a module counts as silent only after {misses} missed beats.")
            : Say($"About {100 * ratio:0.#} % of the expected frames never arrived, from all modules alike, and nobody reported a loss; so much that no module can be called silent."));
        finding.Measurements =
        [
            new("missedRatio", Math.Round(ratio, 6), "1", Math.Round(low, 6), Math.Round(high, 6), 0.95),
            new("expectedFrames", due, "1"),
            new("missedFrames", missed, "1"),
        ];
        if (isNew)
        {
            finding.AddEvidence(now, Say($"{missed:N0} of {due:N0} regular frames were missed, by chance and by no module more than by others."));
            finding.Causes = Causes.Of(
                    (Cause.AdapterLimit, 7, Say($"All modules are missed alike: most likely the adapter, its driver or the board drops frames without counting them.")),
                    (Cause.CableIntermittent, 1, Say($"A bad contact at our own clip or drop would do it, if the adapter doesn't report errors.")))
                .AdviseOurClip()
                .Advise(
                    Cause.AdapterLimit,
                    Say($"Record the same minutes with a second adapter on another board beside this one, and compare the counts of one heartbeat."),
                    Say($"The other record has no holes: it is this adapter or board. The same holes in both: it is the site."),
                    null);
        }
    }

    private Finding Raise(Instant start, Instant now, bool isMuch)
    {
        Finding finding = bus.Book.Raise(Catalogue.BusNotSeen, bus.Name, Subject.WholeBus, start, now, 1);
        finding.HoldOff = HoldOff;
        finding.Severity = isMuch ? Severity.Warning : Severity.Note;
        return finding;
    }
}
