using Diagnostics.Can;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.History;

/// <summary>Takes the changes of inputs out of what happened. Of one input in one minute the first <see cref="MostAMinute"/> are kept and the rest is counted.</summary>
internal sealed class InputRecorder
{
    /// <summary>A person manages a few in a second, but not for long.</summary>
    public const int MostAMinute = 60;

    private const long Minute = 60_000_000_000;

    private readonly Dictionary<(string Interface, int Node, int Input), (long Minute, int Count, Instant Last, bool Active)> _counts = [];

    public IReadOnlyList<InputEvent> OnEvents(IEnumerable<BusEvent> events)
    {
        List<InputEvent> kept = [];
        foreach (BusEvent happened in events)
        {
            if (happened.Kind is not (BusEventKind.InputOn or BusEventKind.InputOff))
            {
                continue;
            }

            (string, int, int) key = (happened.Interface, happened.Node, happened.Number);
            long minute = happened.Time.Nanoseconds / Minute;
            bool active = happened.Kind == BusEventKind.InputOn;
            bool isKnown = _counts.TryGetValue(key, out (long Minute, int Count, Instant Last, bool Active) before);
            if (isKnown && before.Minute != minute && before.Count > MostAMinute)
            {
                kept.Add(new(before.Last, happened.Interface, happened.Node, happened.Number, before.Active) { More = before.Count - MostAMinute });
            }

            int count = isKnown && before.Minute == minute ? before.Count + 1 : 1;
            _counts[key] = (minute, count, happened.Time, active);
            if (count <= MostAMinute)
            {
                kept.Add(new(happened.Time, happened.Interface, happened.Node, happened.Number, active));
            }
        }

        return kept;
    }
}
