using Diagnostics.Can;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Diagnosis;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Symptom: an input stays active far beyond a press, or far beyond its habit. Limit: for a push-button by the as-built record 5 min; without a record
/// 20 times its longest activation so far and at least 5 min, once five activations were heard and none was longer than 10 s (that is: it behaves like a
/// push-button), half of them shorter than 1 s (doors are open and motion is told for longer); for anything that may rest active (switch, contact, motion) 20 times its longest of at least ten, and at least an hour.
/// Why: holding a button for dimming takes seconds (common practice, no source), and a switch that is on is none of our business.
/// That it is active counts where a PDO said so: nobody tells of the release of one that was only read, unless it is read again.
/// Lost frames: its release may have been among them, so its time counts anew from there, and only if a message of that node after the loss still said active.
/// Where press and release lie so close that the stamps don't tell which was first (<see cref="Bus.StampScatterSeconds"/>), three further messages must have said so.
/// Where frames go missing unreported, as many messages must have said so as may be missed in a row by chance (<see cref="LossEstimate"/>).
/// </summary>
internal sealed class StuckDetector(Bus bus)
{
    private const double PushButtonSeconds = 300;
    private const double RestingSeconds = 3600;
    private const double LongestPress = 10;
    private const double OrdinaryPress = 1;
    private const double Times = 20;

    private readonly Dictionary<int, State> _inputs = [];

    private sealed class State
    {
        public bool Active;
        public bool KnowsStart;
        public bool Reported;
        public Instant Since;

        /// <summary>The PDO that tells of it, how often that had come then, and when the time before.</summary>
        public int Pdo;
        public long Told;
        public Instant ToldBefore;
        public int Activations;
        public int Presses;
        public double Longest;
    }

    public void OnInput(Instant time, byte node, int input, bool active, bool isFirst)
    {
        int key = (node << 8) | input;
        if (!_inputs.TryGetValue(key, out State? state))
        {
            if (_inputs.Count >= Limits.Inputs)
            {
                return;
            }

            _inputs.Add(key, state = new());
        }

        if (state.Active && !active)
        {
            if (state.Reported)
            {
                bus.Book.Close(Catalogue.InputStuck, bus.Name, Subject.OfInput(node, input), time);
            }
            else if (state.KnowsStart && state.Since > bus.WholeSince)
            {
                state.Activations++;
                state.Presses += time.SecondsSince(state.Since) < OrdinaryPress ? 1 : 0;
                state.Longest = Math.Max(state.Longest, time.SecondsSince(state.Since));
            }
        }

        state.Reported = false;
        state.Active = active;
        state.KnowsStart = !isFirst;
        state.Since = time;
        if (bus.Node(node) is NodeState sender)
        {
            state.Pdo = sender.LastPdoNumber;
            state.Told = sender.PdosOf(state.Pdo);
            state.ToldBefore = sender.PdoBefore;
        }
    }

    public void OnSecond(Instant now)
    {
        if (!bus.Protocol.IsCanOpen)
        {
            return;
        }

        foreach ((int key, State state) in _inputs)
        {
            if (!state.Active || state.Reported)
            {
                continue;
            }

            int node = key >> 8;
            int input = key & 0xFF;
            if (Limit(node, input, state) is not double limit || now.SecondsSince(Instant.Max(state.Since, bus.WholeSince)) <= limit || !IsStillKnown(node, state))
            {
                continue;
            }

            state.Reported = true;
            Report(node, input, state, limit, now);
        }
    }

    /// <summary>The node is there, and if frames were lost since, it has told its inputs again; often enough, if nobody says which were lost.</summary>
    private bool IsStillKnown(int node, State state) =>
        bus.Node(node) is { Silent: false } sender
        && (state.Since > bus.WholeSince || sender.LastPdo > bus.WholeSince)
        && (!bus.Loss.IsLosing || sender.PdosOf(state.Pdo) - state.Told >= bus.Loss.MissesAllowed)
        && (sender.PdosOf(state.Pdo) - state.Told >= LossEstimate.LeastMisses || state.Since.SecondsSince(state.ToldBefore) > bus.StampScatterSeconds());

    private double? Limit(int node, int input, State state) => bus.Names.Input(node, input)?.Kind switch
    {
        InputKind.PushButton => PushButtonSeconds,
        InputKind.Switch or InputKind.Contact or InputKind.Motion =>
            state.Activations >= 10 ? Math.Max(RestingSeconds, Times * state.Longest) : null,
        _ => state.Activations >= 5 && state.Presses * 2 >= state.Activations && state.Longest <= LongestPress ? Math.Max(PushButtonSeconds, Times * state.Longest) : null,
    };

    private void Report(int node, int input, State state, double limit, Instant now)
    {
        // What was lost may have held a release and another press.
        Instant since = Instant.Max(state.Since, bus.WholeSince);
        Subject subject = Subject.OfInput(node, input);
        Finding finding = bus.Book.Raise(Catalogue.InputStuck, bus.Name, subject, since, now, 0.92);
        finding.Tell(
            Say($"{bus.Names.InputName(node, input)} stays active, far longer than a press."),
            Say($"{bus.Names.InputName(node, input)} stayed active far longer than a press."));
        finding.Measurements = [new("activeFor", Math.Round(now.SecondsSince(since)), "s"), new("longestBefore", Math.Round(state.Longest, 3), "s"), new("limit", Math.Round(limit, 1), "s")];
        finding.AddEvidence(since, Say($"It is active and hasn't been released."));
        finding.Causes = Causes.Of(
            (Cause.ButtonHeld, 5, Say($"A button that is jammed or held down by something.")),
            (Cause.CableShort, 2, Say($"A short in the button's cable.")),
            (Cause.MoistureOrLeakage, 2, Say($"Leakage that holds the input above its threshold.")),
            (Cause.DeviceFault, 1, Say($"The module's input may be stuck.")));
    }
}
