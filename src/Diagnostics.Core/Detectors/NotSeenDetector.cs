using Diagnostics.Can;
using Diagnostics.Core.Diagnosis;
using Diagnostics.Core.Findings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Symptom: our own blindness. Limit: any frame or record known to be lost, or any time not heard, is a note; more than 1 % of the frames, or 5 % of the
/// time, is a warning. Why: with less the counts stay good to a hundredth, and detectors of absence hold back by themselves.
/// </summary>
internal sealed class NotSeenDetector(Bus bus)
{
    /// <summary>A shorter time not heard isn't worth naming: then it was the clock that stepped.</summary>
    private static readonly TimeSpan Noticeable = TimeSpan.FromMilliseconds(1);

    private Instant _told = Instant.MinValue;

    public void OnSecond(Instant now)
    {
        if (bus.WholeSince == Instant.MinValue || bus.WholeSince == _told || bus.WholeSince > now)
        {
            return;
        }

        _told = bus.WholeSince;
        long lost = bus.Ledger.LostFrames(bus.Index);
        TimeSpan notHeard = bus.Ledger.NotHeard(bus.Index);
        double lostRatio = lost / (double)Math.Max(1, lost + bus.Frames);
        double timeRatio = notHeard / (now - Instant.Min(bus.Start, now - TimeSpan.FromSeconds(1)));
        bool isNew = !bus.Book.IsOpen(Catalogue.BusNotSeen, bus.Name, Subject.WholeBus);
        Finding finding = bus.Book.Raise(Catalogue.BusNotSeen, bus.Name, Subject.WholeBus, _told, now, 1);
        finding.HoldOff = TimeSpan.FromMinutes(1);
        finding.Severity = lostRatio > 0.01 || timeRatio > 0.05 ? Severity.Warning : Severity.Note;
        finding.Tell(lost > 0 ? Text.Of($"This recorder itself lost at least {lost:N0} {(lost == 1 ? "frame or record" : "frames or records")}; silence around those moments proves nothing.")
            : notHeard >= Noticeable ? Text.Of($"This recorder couldn't hear the bus for {Text.Seconds(notHeard.TotalSeconds)} in all; silence around those moments proves nothing.")
            : "This recorder's clock stepped; how long anything was silent around that moment isn't known.");
        finding.Measurements = [new("lostRatio", Math.Round(lostRatio, 6), "1"), new("notHeard", Math.Round(notHeard.TotalSeconds, 3), "s")];
        finding.AddEvidence(_told, "Whole again from here on.");
        if (isNew)
        {
            finding.Causes = Causes.Of(
                (Cause.AdapterLimit, 8, "The board, the adapter or the trace lost it, not the bus."));
        }
    }
}
