using Diagnostics.Can;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Diagnosis;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Symptom: one operation of an input arrives as several changes close together, again and again. Limit: two levels in a row that last
/// less than 50 ms each make the operation a chattered one (no person presses shorter than about 50 ms; from memory, trade rule); operations are changes less than 500 ms apart.
/// Raised when at least three of the last 20 operations chattered, four of 40 or five of 60. Why so many: worn buttons were measured to bounce visibly in a
/// fifth of their operations, good ones in one of a hundred (236 recorded operations), so that any of these by chance has odds of about 1e-3. Why
/// three windows: a filter hides most of a bounce, so a worn button of which one operation in eight shows would hardly ever show three times in 20.
/// Why two in a row: bounce comes as closed and open again before the contact settles, while two children on one button may leave one short gap. Lost frames merge changes and never shorten a level, so nothing is held back.
/// </summary>
internal sealed class ChatterDetector(Bus bus)
{
    private const long ShortestPress = 50_000_000;
    private const long OperationGap = 500_000_000;
    private const int CleanOperations = 20;

    /// <summary>So many raise it in the longest window, and are its evidence from the first on.</summary>
    private const int MostNeeded = 5;

    private static readonly (int Operations, int Needed)[] _windows = [(20, 3), (40, 4), (60, MostNeeded)];

    private readonly Dictionary<int, State> _inputs = [];

    private sealed class State
    {
        public long LastChange;
        public bool WasShort;
        public bool Chattered;
        public int Changes;
        public long Shortest = long.MaxValue;

        /// <summary>The last 64 operations, one bit each: 1 = chattered.</summary>
        public ulong History;
        public int Count;

        /// <summary>The latest that chattered, oldest first: number of the operation, when that showed, and the level that showed it.</summary>
        public readonly List<(int Operation, Instant Time, long Level)> Latest = [];
        public bool IsRaised;
    }

    public void OnInput(Instant time, byte node, int input, bool isFirst)
    {
        int key = (node << 8) | input;
        if (!_inputs.TryGetValue(key, out State? state))
        {
            if (_inputs.Count >= Limits.Inputs)
            {
                return;
            }

            _inputs.Add(key, state = new() { LastChange = long.MinValue / 2 });
        }

        if (isFirst)
        {
            return;
        }

        long gap = time.Nanoseconds - state.LastChange;
        state.LastChange = time.Nanoseconds;
        if (gap > OperationGap)
        {
            // A new operation begins; the one before is now complete.
            if (state.Changes > 0)
            {
                state.History = (state.History << 1) | (state.Chattered ? 1u : 0u);
                state.Count++;
            }

            state.Chattered = false;
            state.WasShort = false;
            state.Changes = 1;
            return;
        }

        state.Changes++;
        bool isSecondShort = gap < ShortestPress && state.WasShort;
        state.WasShort = gap < ShortestPress;
        if (!isSecondShort)
        {
            return;
        }

        state.Shortest = Math.Min(state.Shortest, gap);
        if (!state.Chattered)
        {
            state.Chattered = true;
            if (state.Latest.Count == MostNeeded)
            {
                state.Latest.RemoveAt(0);
            }

            state.Latest.Add((state.Count, time, gap));
            Judge(time, node, input, state);
        }
    }

    public void OnSecond(Instant now)
    {
        foreach ((int key, State state) in _inputs)
        {
            // Twenty clean operations in a row: the contact, or its setting, was put right.
            if (state.IsRaised && Chattered(state, CleanOperations) == 0 && !state.Chattered)
            {
                bus.Book.Close(Catalogue.InputChatter, bus.Name, Subject.OfInput(key >> 8, key & 0xFF), new(state.LastChange));
                state.IsRaised = false;
                state.History = 0;
                state.Count = 0;
                state.Latest.Clear();
            }
        }
    }

    /// <summary>Among so many complete operations.</summary>
    private static int Chattered(State state, int operations) => System.Numerics.BitOperations.PopCount(state.History & ((1UL << operations) - 1));

    private void Judge(Instant time, byte node, int input, State state)
    {
        // The operation that is going on has chattered, and isn't in the history yet.
        (int operations, int needed) = Array.Find(_windows, window => Chattered(state, window.Operations - 1) + 1 >= window.Needed);
        if (needed == 0 || !bus.Protocol.IsCanOpen)
        {
            return;
        }

        int chattered = Chattered(state, operations - 1) + 1;
        operations = Math.Min(state.Count + 1, operations);
        Subject subject = Subject.OfInput(node, input);
        bool isNew = !bus.Book.IsOpen(Catalogue.InputChatter, bus.Name, subject);

        // One that chattered long before, outside what it is judged by, is no beginning.
        int first = state.Latest.FindIndex(one => one.Operation > state.Count - operations);
        Finding finding = bus.Book.Raise(Catalogue.InputChatter, bus.Name, subject, state.Latest[first].Time, time, 0.95);
        state.IsRaised = true;
        finding.Tell(
            Say($"{bus.Names.InputName(node, input)} chatters: {chattered} of the last {operations} operations came as several changes within milliseconds."),
            Say($"{bus.Names.InputName(node, input)} chattered: {chattered} of {operations} operations came as several changes within milliseconds."));
        finding.Measurements =
        [
            new("chatteredOperations", chattered, "1"),
            new("operations", operations, "1"),
            new("shortestLevel", Math.Round(state.Shortest / 1e9, 6), "s"),
        ];
        foreach ((_, Instant shown, long level) in state.Latest[(isNew ? first : ^1)..])
        {
            finding.AddEvidence(shown, Say($"A pulse of {Text.Seconds(level / 1e9)}; no finger is that fast."));
        }

        if (isNew)
        {
            bool isOther = bus.Names.Input(node, input)?.Kind is InputKind.Contact or InputKind.Motion;
            finding.Causes = Causes.Of(
                (Cause.ContactWorn, 5, Say($"A worn contact bounces longer than the module's filter waits.")),
                (Cause.ContactBounceSetting, isOther ? 4 : 3, Say($"A filter time that is too short lets ordinary bounce through.")),
                (Cause.MoistureOrLeakage, 1, Say($"Leakage near the threshold of the input flickers too.")));
        }
    }
}
