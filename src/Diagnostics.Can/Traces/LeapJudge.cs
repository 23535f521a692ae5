namespace Diagnostics.Can.Traces;

/// <summary>What a leap forward of the stamps was.</summary>
internal enum LeapVerdict
{
    Silence,
    Step,

    /// <summary>Either: nobody can tell.</summary>
    Doubt,
}

/// <summary>
/// Hears what comes behind one leap forward and says whether it was a step of the clock or silence of the bus, by the rules of <see cref="TimeLine"/>:
/// each regular identifier's first frame behind the leap tells a step, give or take its tolerance, and a step is what most of them agree on.
/// </summary>
internal sealed class LeapJudge(CycleBook cycles)
{
    private const long Second = 1_000_000_000;
    private const int FewestCycles = 2;

    /// <summary>As many prove something where there are that many or more.</summary>
    private const int EnoughCycles = 3;

    /// <summary>Where nothing is regular, shorter pauses are ordinary: people come and go.</summary>
    private const long ShortestDoubtWithoutCycles = 600 * Second;

    /// <summary>Where nothing is regular, nodes that were powered again have said so by then.</summary>
    private const long SignsOfStartWithin = 5 * Second;

    private readonly List<Cycle> _awaited = [];
    private readonly Dictionary<ulong, int> _missing = [];
    private readonly List<(long Shortest, long Longest)> _steps = [];
    private readonly List<(long Step, int Opens)> _edges = [];
    private long _before;
    private long _first;
    private long _newest;
    private long _lastDue;
    private bool _nodesStarted;

    /// <summary>Somebody regular was due in between, or the pause is beyond what people explain.</summary>
    public bool IsInDoubt { get; private set; }

    /// <summary>Further frames would change nothing.</summary>
    public bool IsDecided => _nodesStarted || (_awaited.Count > 0 && _missing.Count == 0) || _newest - _first > _lastDue - _before;

    /// <param name="before">The newest time before the leap.</param>
    /// <param name="frame">The first frame behind it, at <paramref name="first"/>.</param>
    /// <param name="first">As the stamps say; all times in nanoseconds on the line.</param>
    public void Begin(long before, in CanFrame frame, long first)
    {
        _before = before;
        _first = first;
        _newest = first;
        _nodesStarted = false;
        _steps.Clear();
        _missing.Clear();
        cycles.Collect(before, _awaited);
        _lastDue = _awaited.Count == 0 ? before + SignsOfStartWithin : before;
        IsInDoubt = _awaited.Count == 0 && first - before >= ShortestDoubtWithoutCycles;
        for (int index = 0; index < _awaited.Count; index++)
        {
            long latest = _awaited[index].Due + _awaited[index].Tolerance;
            _missing.Add(_awaited[index].Key, index);
            _lastDue = Math.Max(_lastDue, latest);
            IsInDoubt |= latest < first;
        }

        Hear(in frame, first);
    }

    public void Hear(in CanFrame frame, long time)
    {
        _newest = Math.Max(_newest, time);

        // Nodes that were powered together start in the same phases as the last time: the phases prove nothing then.
        _nodesStarted |= IsSignOfStart(in frame);
        if (!frame.IsError && _missing.Remove(CycleBook.Key(frame), out int index))
        {
            long step = time - _awaited[index].Due;
            _steps.Add((step - _awaited[index].Tolerance, step + _awaited[index].Tolerance));
        }
    }

    /// <summary>By what was heard so far; the step is 0 unless it was one.</summary>
    public (LeapVerdict Verdict, long Step) Decide()
    {
        if (!IsInDoubt || _nodesStarted)
        {
            return (LeapVerdict.Silence, 0);
        }

        // A trace may end before the slow ones were due; those heard must be enough then.
        int judgeable = _steps.Count;
        foreach (int index in _missing.Values)
        {
            judgeable += _awaited[index].Due + _awaited[index].Tolerance - _before < _newest - _first ? 1 : 0;
        }

        (long step, int agreeing) = MostAgreed();
        bool allAgree = agreeing == judgeable && agreeing >= FewestCycles && agreeing >= Math.Min(_awaited.Count, EnoughCycles);
        bool mostAgree = judgeable == _steps.Count && agreeing > EnoughCycles && 4 * agreeing >= 3 * judgeable && _steps.TrueForAll(each => each.Shortest <= step);
        return allAgree || mostAgree ? (LeapVerdict.Step, step)
            : judgeable >= EnoughCycles && 2 * agreeing <= judgeable ? (LeapVerdict.Silence, 0)
            : (LeapVerdict.Doubt, 0);
    }

    /// <summary>The step that most identifiers agree on, and how many these are.</summary>
    private (long Step, int Agreeing) MostAgreed()
    {
        _edges.Clear();
        long most = _first - _before;
        foreach ((long shortest, long longest) in _steps)
        {
            if (longest >= Second && shortest <= most)
            {
                _edges.Add((Math.Max(Second, shortest), 1));
                _edges.Add((Math.Min(most, longest), -1));
            }
        }

        // Ends behind beginnings at the same place: they touch.
        _edges.Sort((left, right) => left.Step != right.Step ? left.Step.CompareTo(right.Step) : right.Opens.CompareTo(left.Opens));
        (long Step, int Agreeing) best = default;
        int agreeing = 0;
        for (int index = 0; index < _edges.Count; index++)
        {
            agreeing += _edges[index].Opens;
            if (agreeing > best.Agreeing)
            {
                best = (_edges[index].Step + ((_edges[index + 1].Step - _edges[index].Step) / 2), agreeing);
            }
        }

        return best;
    }

    /// <summary>
    /// A node says that it has just started: CANopen's boot-up (CiA 301: 700h + address, one byte 00h; toggle bit left out),
    /// or J1939's address claimed (PGN 60928, J1939-81).
    /// </summary>
    private static bool IsSignOfStart(in CanFrame frame) =>
        !frame.IsError && !frame.IsRemote && (frame.Id.IsExtended
            ? (frame.Id.Value & 0x00FF_0000) == 0x00EE_0000 && frame.Length == 8
            : frame.Id.Value is > 0x700 and <= 0x77F && frame.Length == 1 && (frame.Data[0] & 0x7F) == 0);
}
