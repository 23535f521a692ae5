using Diagnostics.Can;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Diagnosis;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Symptom: one identifier sends far more than its habit, or takes most of the bus.
/// Limit: for 3 s in a row either half of the capacity, or ten times its busiest second so far together with 100 frames/s and a fifth of the capacity.
/// Why: no module of a building needs half a bus; the second rule finds a babbling sender on a fast bus (limits: common practice, no source).
/// SDO transfers are left out: a firmware download fills the bus on purpose. Without a bit rate only the habit counts, at 20 times and 200 frames/s.
/// Lost frames only lower the rate, so nothing is held back. Over after 5 s below.
/// </summary>
internal sealed class FloodDetector(Bus bus)
{
    private const int SecondsNeeded = 3;
    private static readonly TimeSpan HabitNeeded = TimeSpan.FromSeconds(30);

    private readonly Dictionary<IdentifierState, int> _above = [];

    public void OnSecond(Instant now)
    {
        foreach (IdentifierState identifier in bus.Identifiers.All)
        {
            if (identifier.FramesLastSecond == 0)
            {
                if (_above.Count > 0)
                {
                    _above.Remove(identifier);
                }

                continue;
            }

            bool isFlood = IsFlood(identifier, now);
            if (!isFlood)
            {
                if (_above.Count > 0)
                {
                    _above.Remove(identifier);
                }

                identifier.BusiestHabitSecond = Math.Max(identifier.BusiestHabitSecond, identifier.FramesLastSecond);
                continue;
            }

            int seconds = _above[identifier] = _above.GetValueOrDefault(identifier) + 1;
            if (seconds >= SecondsNeeded)
            {
                Report(identifier, now, seconds);
            }
        }
    }

    private bool IsFlood(IdentifierState identifier, Instant now)
    {
        bool isSdo = bus.Protocol.IsCanOpen && identifier.IsSdo;
        if (isSdo || identifier.FramesLastSecond < 50)
        {
            return false;
        }

        bool hasHabit = now - identifier.FirstHeard > HabitNeeded && identifier.BusiestHabitSecond > 0;
        double times = hasHabit ? identifier.FramesLastSecond / (double)identifier.BusiestHabitSecond : 0;
        if (bus.BitRate is int rate)
        {
            double share = identifier.BitsLastSecond / rate;
            return share > 0.5 || (times >= 10 && identifier.FramesLastSecond >= 100 && share > 0.2);
        }

        return times >= 20 && identifier.FramesLastSecond >= 200;
    }

    private void Report(IdentifierState identifier, Instant now, int seconds)
    {
        Subject subject = new() { Id = identifier.Id, Node = bus.Protocol.IsCanOpen && identifier.Node != 0 ? identifier.Node : null };
        if (bus.Book.Find(Catalogue.NoAcknowledge, bus.Name, subject) is { End: null })
        {
            // A sender that nobody acknowledges repeats without end: that finding says more.
            return;
        }

        bool isNew = !bus.Book.IsOpen(Catalogue.Flood, bus.Name, subject);
        Finding finding = bus.Book.Raise(Catalogue.Flood, bus.Name, subject, now - TimeSpan.FromSeconds(seconds), now, 0.97);
        finding.HoldOff = TimeSpan.FromSeconds(5);
        if (!isNew)
        {
            return;
        }

        Sentence who = subject.Node is int node ? Say($"{bus.Names.Node(node)} ({identifier.Id.ToString()})") : Named(identifier.Id.ToString());
        finding.Tell(
            Say($"{who} floods the bus with {identifier.FramesLastSecond:N0} frames a second."),
            Say($"{who} flooded the bus with {identifier.FramesLastSecond:N0} frames a second."));
        finding.AddEvidence(now, Say($"{identifier.FramesLastSecond:N0} frames in the last second; its busiest second before had {identifier.BusiestHabitSecond:N0}."));
        finding.Measurements = [new("frameRate", identifier.FramesLastSecond, "1/s")];
        finding.Causes = Causes.Of(
            (Cause.DeviceFault, 4, Say($"A module whose program hangs in sending does this.")),
            (Cause.CommandLoop, 3, Say($"Two rules that answer each other do this.")),
            (Cause.ConfigurationDiffers, 2, Say($"An event time of a few milliseconds does this.")),
            (Cause.MoistureOrLeakage, 1, Say($"An input that flutters sends on each change.")));
    }
}
