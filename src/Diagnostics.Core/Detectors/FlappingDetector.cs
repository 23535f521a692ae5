using Diagnostics.Can;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Diagnosis;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Symptom: an input keeps changing in a way that no person explains. Limit: at least three activations (the chattering criterion of alarm practice,
/// three a minute) in each of 15 of the last 30 minutes. Why that long: children play with a button for minutes, and no rule about speed tells
/// their fingers from a wet contact, but nobody keeps it up for a quarter of an hour (common practice, no source). The price is a delay of 15 minutes.
/// An input that the as-built record calls a motion sensor needs 25 of 30. Over after 15 minutes without such a minute.
/// Lost frames only hide changes, so nothing is held back.
/// </summary>
internal sealed class FlappingDetector(Bus bus)
{
    /// <summary>Minutes without so many activations after which it is over.</summary>
    public const int QuietMinutes = 15;

    private const int PerMinute = 3;
    private const int MinutesNeeded = 15;
    private const int MinutesNeededForMotion = 25;
    private const int Window = 30;
    private const long Minute = 60_000_000_000;

    private readonly Dictionary<int, State> _inputs = [];

    private sealed class State
    {
        public long CurrentMinute = long.MinValue;
        public int Activations;
        public long Total;

        /// <summary>One bit a minute, the current one excluded: 1 = busy.</summary>
        public uint History;
        public Instant FirstBusy;
    }

    public void OnInput(Instant time, byte node, int input, bool active, bool isFirst)
    {
        if (isFirst || !active)
        {
            return;
        }

        int key = (node << 8) | input;
        if (!_inputs.TryGetValue(key, out State? state))
        {
            if (_inputs.Count >= Limits.Inputs)
            {
                return;
            }

            _inputs.Add(key, state = new());
        }

        Roll(state, time);
        state.Total++;
        if (++state.Activations == PerMinute)
        {
            if (state.History == 0)
            {
                state.FirstBusy = time;
            }

            Judge(time, node, input, state);
        }
    }

    public void OnSecond(Instant now)
    {
        if (now.Nanoseconds % Minute >= 1_000_000_000)
        {
            return;
        }

        foreach ((int key, State state) in _inputs)
        {
            Roll(state, now);
            if (state.History << (32 - QuietMinutes) == 0 && state.Activations < PerMinute)
            {
                Subject subject = Subject.OfInput(key >> 8, key & 0xFF);
                if (bus.Book.Find(Catalogue.InputFlapping, bus.Name, subject) is { End: null } open)
                {
                    open.End = open.LastEvidence;
                }
            }
        }
    }

    private static void Roll(State state, Instant time)
    {
        long minute = time.Nanoseconds / Minute;
        if (minute == state.CurrentMinute)
        {
            return;
        }

        long passed = state.CurrentMinute == long.MinValue ? 1 : minute - state.CurrentMinute;
        bool busy = state.Activations >= PerMinute;
        state.History = passed > 31 ? 0 : ((state.History << 1) | (busy ? 1u : 0u)) << (int)(passed - 1);
        state.History &= (1u << Window) - 1;
        state.CurrentMinute = minute;
        state.Activations = 0;
    }

    private void Judge(Instant time, byte node, int input, State state)
    {
        int busy = System.Numerics.BitOperations.PopCount(state.History) + 1;
        int needed = bus.Names.Input(node, input)?.Kind == InputKind.Motion ? MinutesNeededForMotion : MinutesNeeded;
        if (busy < needed || !bus.Protocol.IsCanOpen)
        {
            return;
        }

        Subject subject = Subject.OfInput(node, input);
        bool isNew = !bus.Book.IsOpen(Catalogue.InputFlapping, bus.Name, subject);
        Finding finding = bus.Book.Raise(Catalogue.InputFlapping, bus.Name, subject, state.FirstBusy, time, 0.93);
        finding.Measurements = [new("busyMinutes", busy, "1"), new("activations", state.Total, "1")];
        if (!isNew)
        {
            return;
        }

        finding.Tell(
            Say($"{bus.Names.InputName(node, input)} keeps switching: busy in {busy} of the last {Window} minutes, longer than anybody keeps pressing."),
            Say($"{bus.Names.InputName(node, input)} kept switching, longer than anybody keeps pressing."));
        finding.AddEvidence(time, Say($"{state.Total:N0} activations so far."));
        finding.Causes = Causes.Of(
            (Cause.MoistureOrLeakage, 4, Say($"Leakage or induced voltage near the threshold of the input makes it flutter.")),
            (Cause.ContactWorn, 3, Say($"A loose or worn contact does it.")),
            (Cause.ButtonHeld, 1, Say($"A button that is wedged loosely.")),
            (Cause.ConfigurationDiffers, 2, Say($"If a pulse output or a cyclic sensor is connected, it is meant to.")));
    }
}
