using Diagnostics.Can;

namespace Diagnostics.Agent.History;

/// <summary>What one interface carried in one stretch of time; the log keeps one a minute.</summary>
/// <param name="Start">Where the stretch begins.</param>
/// <param name="Seconds">How long it is.</param>
/// <param name="Interface">Name of the interface.</param>
/// <param name="LoadMean">Ratio, null without a bit rate.</param>
/// <param name="LoadPeak">Highest second, ratio.</param>
/// <param name="Frames">Frames received.</param>
/// <param name="Errors">Errors on the wire, one for each kind that a message carried.</param>
/// <param name="NodesPresent">Nodes that were heard within their time at the end of the stretch.</param>
internal sealed record TrafficRow(
    Instant Start, double Seconds, string Interface, double? LoadMean, double? LoadPeak, long Frames, long Errors, int NodesPresent)
{
    /// <summary>What of the stretch was heard, s; null in rows of an older version, as the three below are.</summary>
    public double? HeardSeconds { get; init; }

    /// <summary>Bits on the wire, what errors took included.</summary>
    public double? Bits { get; init; }

    /// <summary>Errors on the wire that were 50 ms or more apart; null where they can't be seen.</summary>
    public long? ErrorEpisodes { get; init; }

    /// <summary>Restarts of nodes that nothing on the bus explains.</summary>
    public long? Restarts { get; init; }

    public Instant End => Start + TimeSpan.FromSeconds(Seconds);

    /// <summary>Two stretches of one interface as one, this one being the earlier. Time between them counts as not known, so it isn't averaged in.</summary>
    public TrafficRow With(TrafficRow later)
    {
        double? mean = (LoadMean, later.LoadMean) switch
        {
            (double a, double b) when Seconds + later.Seconds > 0 => ((a * Seconds) + (b * later.Seconds)) / (Seconds + later.Seconds),
            (double a, _) => a,
            (_, double b) => b,
            _ => null,
        };
        double? peak = LoadPeak is double first && later.LoadPeak is double second ? Math.Max(first, second) : LoadPeak ?? later.LoadPeak;
        return this with
        {
            Seconds = later.End.SecondsSince(Start),
            LoadMean = mean,
            LoadPeak = peak,
            Frames = Frames + later.Frames,
            Errors = Errors + later.Errors,
            NodesPresent = Math.Max(NodesPresent, later.NodesPresent),
            HeardSeconds = HeardSeconds + later.HeardSeconds,
            Bits = Bits + later.Bits,
            ErrorEpisodes = ErrorEpisodes + later.ErrorEpisodes,
            Restarts = Restarts + later.Restarts,
        };
    }
}
