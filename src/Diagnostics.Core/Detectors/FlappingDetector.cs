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
/// Where seven in ten of the latest pulses last as long as the one before it is no contact that flutters but something that sends pulses (a meter, a life-sign): told as a note.
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

    /// <summary>
    /// So many pulses are compared, each with the one before, as a wind gauge's change slowly. Where a contact flutters, one in ten is that much like it (of two
    /// exponential lengths).
    /// </summary>
    private const int PulsesCompared = 32;
    private const double PulseScatter = 0.2;
    private const double PulsesAlike = 0.7;

    /// <summary>Nanoseconds; the shortest pulse of a meter's output is 30 ms (EN 62053-31, from memory), and what is shorter may be the scan of the module.</summary>
    private const long ShortestPulse = 25_000_000;

    private readonly Dictionary<int, State> _inputs = [];

    private sealed class State
    {
        public long CurrentMinute = long.MinValue;
        public int Activations;
        public long Total;

        /// <summary>One bit a minute, the current one excluded: 1 = busy.</summary>
        public uint History;
        public Instant FirstBusy;
        public Instant Since = Instant.MinValue;
        public readonly long[] Pulses = new long[PulsesCompared];
        public long PulseCount;

        public bool SendsPulses
        {
            get
            {
                int alike = 0;
                for (int i = 1; i < PulsesCompared; i++)
                {
                    long before = Pulses[(PulseCount + i - 1) % PulsesCompared];
                    long pulse = Pulses[(PulseCount + i) % PulsesCompared];
                    alike += before >= ShortestPulse && Math.Abs(pulse - before) <= PulseScatter * before ? 1 : 0;
                }

                return PulseCount >= PulsesCompared && alike >= PulsesAlike * (PulsesCompared - 1);
            }
        }
    }

    public void OnInput(Instant time, byte node, int input, bool active, bool isFirst)
    {
        if (isFirst)
        {
            return;
        }

        int key = (node << 8) | input;
        bool isKnown = _inputs.TryGetValue(key, out State? state);
        if (!active)
        {
            if (isKnown && state!.Since > bus.WholeSince)
            {
                state.Pulses[state.PulseCount++ % PulsesCompared] = time.Nanoseconds - state.Since.Nanoseconds;
            }

            return;
        }

        if (!isKnown)
        {
            if (_inputs.Count >= Limits.Inputs)
            {
                return;
            }

            _inputs.Add(key, state = new());
        }

        Roll(state!, time);
        state!.Since = time;
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
        int busy = System.Numerics.BitOperations.PopCount(state.History & ((1u << (Window - 1)) - 1)) + 1;
        int needed = bus.Names.Input(node, input)?.Kind == InputKind.Motion ? MinutesNeededForMotion : MinutesNeeded;
        if (busy < needed || !bus.Protocol.IsCanOpen)
        {
            return;
        }

        Subject subject = Subject.OfInput(node, input);
        bool isNew = !bus.Book.IsOpen(Catalogue.InputFlapping, bus.Name, subject);
        Finding finding = bus.Book.Raise(Catalogue.InputFlapping, bus.Name, subject, state.FirstBusy, time, 0.93);
        finding.Measurements = [new("busyMinutes", busy, "1"), new("activations", state.Total, "1")];
        bool sendsPulses = state.SendsPulses;
        if (!isNew && sendsPulses == (finding.Severity == Severity.Note))
        {
            return;
        }

        finding.Severity = sendsPulses ? Severity.Note : Severity.Warning;
        if (sendsPulses)
        {
            finding.Tell(
                Say($"{bus.Names.InputName(node, input)} keeps switching, in pulses of equal length: a meter, a flasher or a life-sign may be connected."),
                Say($"{bus.Names.InputName(node, input)} kept switching, in pulses of equal length: a meter, a flasher or a life-sign may be connected."));
            finding.AddEvidence(time, Say($"{state.Total:N0} activations so far."));
            finding.Causes = Causes.Of(
                (Cause.ConfigurationDiffers, 8, Say($"If a pulse output or a cyclic sensor is connected, it is meant to.")),
                (Cause.CommandLoop, 1, Say($"Two rules that answer each other do this.")));
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
