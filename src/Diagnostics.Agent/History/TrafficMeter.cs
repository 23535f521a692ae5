using Diagnostics.Can;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.History;

/// <summary>
/// Turns the totals of successive snapshots into rows for stretches of time. The report's mean load holds since the start, so a stretch's own is
/// (mean × heard time) at its end less the same at its beginning, over the time heard between, which the report tells for each interface.
/// The rows of a run add up to what was heard in it.
/// The peak is the busiest second that ended within the stretch; where that of all the time rose, it may still be open.
/// </summary>
internal sealed class TrafficMeter
{
    /// <summary>The snapshot at which the stretch that is open began; null before the first.</summary>
    private Report? _opening;

    /// <summary>The first snapshot begins a stretch; those within one tell nothing that its end doesn't.</summary>
    public void Observe(Report report) => _opening ??= report;

    /// <summary>Ends the stretch at this snapshot, gives a row for each interface, and begins the next one here.</summary>
    /// <param name="report">The snapshot.</param>
    /// <param name="start">Where the stretch began.</param>
    /// <param name="seconds">How long it was.</param>
    public IReadOnlyList<TrafficRow> Close(Report report, Instant start, double seconds)
    {
        bool isFirst = _opening is null;
        Report opening = _opening ?? report;

        // Snapshots rarely fall on the ends of a stretch: what was not heard between them is what the stretch lacks, not what they are nearer or farther apart.
        double between = !isFirst && report.Source.End is { } to && opening.Source.End is { } from ? to.SecondsSince(from) : seconds;
        List<TrafficRow> rows = new(report.Buses.Count);
        foreach (BusReport bus in report.Buses)
        {
            BusReport? before = isFirst ? null : Find(opening, bus.Interface);
            Totals since = Totals.Of(bus).Since(before is null ? Totals.None : Totals.Of(before));
            double? mean = Load(opening, report, bus);
            Instant begin = isFirst ? Instant.MinValue : opening.Source.End ?? Instant.MinValue;
            double? ended = bus.BusiestSeconds.Where(second => second.End > begin).Select(second => (double?)second.Load).FirstOrDefault();
            double? risen = bus.LoadPeak1s > (before?.LoadPeak1s ?? 0) ? bus.LoadPeak1s : null;
            rows.Add(new(
                start,
                seconds,
                bus.Interface,
                mean,
                new[] { mean, ended, risen }.Max(),
                since.Frames,
                Math.Max(0, Errors(bus) - (before is null ? 0 : Errors(before))),
                bus.Nodes.Count(node => node.Present == true))
            {
                HeardSeconds = Math.Clamp(seconds - Math.Max(0, between - since.HeardSeconds), 0, seconds),
                Bits = since.Bits,
                ErrorEpisodes = since.ErrorEpisodes,
                Restarts = since.Restarts,
            });
        }

        _opening = report;
        return rows;
    }

    private static long Errors(BusReport bus) =>
        bus.Errors.Bit + bus.Errors.Stuff + bus.Errors.Form + bus.Errors.Crc + bus.Errors.Ack + bus.Errors.Other;

    private static BusReport? Find(Report report, string name)
    {
        foreach (BusReport bus in report.Buses)
        {
            if (bus.Interface == name)
            {
                return bus;
            }
        }

        return null;
    }

    /// <summary>Mean load of an interface between two snapshots; null where it isn't known or nothing was heard in between.</summary>
    private static double? Load(Report from, Report to, BusReport bus)
    {
        if (bus.LoadMean is not double loadTo)
        {
            return null;
        }

        double heardTo = bus.HeardSeconds;
        BusReport? before = Find(from, bus.Interface);
        double heardFrom = ReferenceEquals(from, to) || before?.LoadMean is null ? 0 : before.HeardSeconds;
        double span = heardTo - heardFrom;
        return span <= 1e-6 ? null : Math.Max(0, ((loadTo * heardTo) - ((before?.LoadMean ?? 0) * heardFrom)) / span);
    }
}
