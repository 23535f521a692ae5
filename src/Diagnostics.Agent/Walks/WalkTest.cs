using Diagnostics.Agent.Activities;
using Diagnostics.Can;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.Walks;

/// <summary>
/// Runs a walk test, one at a time. An output's change belongs to the input that changed last before it, within two seconds: longer than any controller takes
/// that a person would accept (common practice, no source). That order proves no cause, and the page says so.
/// </summary>
internal sealed class WalkTest
{
    public static readonly TimeSpan ReactionWindow = TimeSpan.FromSeconds(2);

    private readonly Lock _lock = new();
    private readonly Dictionary<Point, WalkedInput> _inputs = [];
    private readonly Dictionary<Point, (Instant Time, bool Active)> _levels = [];
    private (Point Input, Instant Time)? _latest;
    private Instant _start;
    private Instant? _end;
    private long _lostBefore;
    private bool _wasBlind;
    private bool _isBegun;

    /// <summary>As it stands; null where none was begun.</summary>
    public WalkRecord? Record
    {
        get
        {
            lock (_lock)
            {
                return _isBegun
                    ? new(_start, _end, [.. _inputs.Values.OrderBy(input => input.Point.Interface, StringComparer.Ordinal).ThenBy(input => input.Point.Node).ThenBy(input => input.Point.Number)]) { WasBlind = _wasBlind }
                    : null;
            }
        }
    }

    /// <summary>Begins anew; what the one before found is forgotten.</summary>
    /// <param name="report">As the bus stands.</param>
    /// <param name="built">The record, whose inputs are to be operated; null where there is none.</param>
    /// <param name="points">What was heard so far.</param>
    /// <returns>False where nothing was heard yet, or one goes on.</returns>
    public bool TryBegin(Report report, AsBuiltRecord? built, IReadOnlyList<PointState> points)
    {
        lock (_lock)
        {
            if (report.Source.End is not { } now || (_isBegun && _end is null))
            {
                return false;
            }

            _inputs.Clear();
            _levels.Clear();
            _latest = null;
            (_start, _end, _isBegun, _wasBlind, _lostBefore) = (now, null, true, false, Lost(report));

            // A record doesn't say on which interface a node sits: where it was heard, or the only one.
            foreach (BuiltNode node in built?.Nodes ?? [])
            {
                string? bus = report.Buses.FirstOrDefault(candidate => candidate.Nodes.Any(heard => heard.Address == node.Address))?.Interface ?? (report.Buses.Count == 1 ? report.Buses[0].Interface : null);
                foreach (BuiltInput input in bus is null ? [] : node.Inputs)
                {
                    Point point = new(bus!, node.Address, PointKind.Input, input.Input);
                    _inputs[point] = new(point, IsBuilt: true);
                }
            }

            foreach (PointState state in points.Where(state => state.Point.Kind == PointKind.Input))
            {
                _inputs.TryAdd(state.Point, new(state.Point, IsBuilt: false));
                _levels[state.Point] = (state.Latest.Time, state.Latest.Active);
            }

            return true;
        }
    }

    /// <returns>False where none goes on.</returns>
    public bool TryEnd(Instant now)
    {
        lock (_lock)
        {
            bool goesOn = _isBegun && _end is null;
            _end = goesOn ? now : _end;
            return goesOn;
        }
    }

    /// <summary>What happened since the last call, in order, with people's times.</summary>
    public void OnEvents(Report report, IEnumerable<BusEvent> events)
    {
        lock (_lock)
        {
            if (!_isBegun || _end is not null)
            {
                return;
            }

            _wasBlind |= Lost(report) > _lostBefore;
            foreach (BusEvent happened in events)
            {
                switch (happened.Kind)
                {
                    case BusEventKind.InputOn or BusEventKind.InputOff:
                        OnInput(new(happened.Interface, happened.Node, PointKind.Input, happened.Number), happened.Kind == BusEventKind.InputOn, happened.Time);
                        break;
                    case BusEventKind.OutputOn or BusEventKind.OutputOff or BusEventKind.OutputReportedOn or BusEventKind.OutputReportedOff:
                        OnOutput(happened);
                        break;
                }
            }
        }
    }

    private static long Lost(Report report) =>
        report.Source.NotSeen.KernelDropped + report.Source.NotSeen.QueueDropped + report.Source.NotSeen.DamagedRecords + report.Source.NotSeen.Gaps.Count;

    private void OnInput(Point point, bool active, Instant time)
    {
        if (!_inputs.TryGetValue(point, out WalkedInput? input))
        {
            if (_inputs.Count >= Limits.PointsInMemory)
            {
                return;
            }

            input = new(point, IsBuilt: false);
        }

        double? level = _levels.TryGetValue(point, out (Instant Time, bool Active) before) && before.Time >= _start ? time.SecondsSince(before.Time) : null;
        _levels[point] = (time, active);
        _latest = (point, time);
        _inputs[point] = input with
        {
            Changes = input.Changes + 1,
            Operations = input.Operations + (active ? 1 : 0),
            Last = active ? time : input.Last,
            PressSeconds = active ? null : level ?? input.PressSeconds,
            ShortestSeconds = level is { } seconds && !(input.ShortestSeconds < seconds) ? seconds : input.ShortestSeconds,
        };
    }

    private void OnOutput(BusEvent happened)
    {
        if (_latest is not { } cause || happened.Time - cause.Time > ReactionWindow || !_inputs.TryGetValue(cause.Input, out WalkedInput? input))
        {
            return;
        }

        bool isReport = happened.Kind is BusEventKind.OutputReportedOn or BusEventKind.OutputReportedOff;
        Point output = new(happened.Interface, happened.Node, PointKind.Output, happened.Number);
        Reaction before = input.Reactions.FirstOrDefault(known => (known.Output, known.IsReport) == (output, isReport));
        Reaction reaction = new(
            output,
            happened.Kind is BusEventKind.OutputOn or BusEventKind.OutputReportedOn,
            isReport,
            happened.Time.SecondsSince(cause.Time))
        {
            Operations = before.Operations + (input.Operations > before.LastOperation ? 1 : 0),
            LastOperation = input.Operations,
        };
        _inputs[cause.Input] = input with
        {
            Reactions = [.. input.Reactions.Where(known => (known.Output, known.IsReport) != (output, isReport)).TakeLast(Limits.ReactionsOfInput - 1), reaction],
        };
    }
}
