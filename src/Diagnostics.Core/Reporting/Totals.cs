namespace Diagnostics.Core.Reporting;

/// <summary>
/// What rates are counted over: how long one interface was heard, and what came in that time. Stretches add up, whatever lay between them, so a soak test goes on after
/// a power cut, and two periods of different length compare.
/// </summary>
/// <param name="HeardSeconds">Without gaps.</param>
/// <param name="Frames">Data and remote frames received.</param>
/// <param name="Bits">Bits in which an error would have counted; null = not known for all of it.</param>
/// <param name="ErrorEpisodes">Errors 50 ms or more apart; null = they couldn't be seen for all of it.</param>
/// <param name="Restarts">Restarts of nodes that nothing on the bus explains; null = not known for all of it.</param>
/// <param name="LoadBits">Bits of good frames on the wire, for the mean load; null = not known for all of it.</param>
public sealed record Totals(double HeardSeconds, long Frames, double? Bits, long? ErrorEpisodes, long? Restarts, double? LoadBits = null)
{
    public static readonly Totals None = new(0, 0, 0, 0, 0, 0);

    public static Totals Of(BusReport bus) =>
        new(bus.HeardSeconds, bus.Frames, bus.BitsHeard, bus.ErrorEpisodes, bus.Nodes.Sum(node => (long)node.RestartsUnexplained), bus.HeardSeconds > 0 ? bus.LoadMean * bus.HeardSeconds * bus.BitRate : 0);

    public Totals Plus(Totals other) => new(
        HeardSeconds + other.HeardSeconds, Frames + other.Frames, Bits + other.Bits, ErrorEpisodes + other.ErrorEpisodes, Restarts + other.Restarts, LoadBits + other.LoadBits);

    /// <summary>What came since an earlier moment of the same run.</summary>
    public Totals Since(Totals earlier) => new(
        HeardSeconds - earlier.HeardSeconds, Frames - earlier.Frames, Bits - earlier.Bits, ErrorEpisodes - (earlier.ErrorEpisodes ?? 0), Restarts - earlier.Restarts, LoadBits - earlier.LoadBits);
}
