using Diagnostics.Core.Reporting;

namespace Diagnostics.Core.Comparison;

/// <summary>One interface in one period.</summary>
/// <param name="Interface">Its name on this side; the other side may call the same bus otherwise.</param>
/// <param name="Totals">What its rates are counted over.</param>
/// <param name="Nodes">Devices with an address of their own.</param>
public sealed record ObservedBus(string Interface, Totals Totals, IReadOnlyList<ObservedNode> Nodes)
{
    /// <summary>Ratio; null = not known.</summary>
    public double? LoadMean { get; init; }

    /// <summary>Busiest second, ratio; null = not known.</summary>
    public double? LoadPeak { get; init; }

    /// <summary>Whether the adapter reports errors on the wire; null = nobody says so.</summary>
    public bool? ErrorReporting { get; init; }

    /// <summary>Identifiers that were heard; null = this side doesn't keep them.</summary>
    public IReadOnlyList<IdentifierReport>? Identifiers { get; init; }

    /// <summary>
    /// No disturbances are counted beyond these, twenty a second for a year and a half: documents come from anybody, and exact tails take longer the larger the counts.
    /// </summary>
    public const long MostCounted = 1_000_000_000;

    /// <summary>Less than a bit of the fastest bus: rates over it would be infinite.</summary>
    private const double LeastSeconds = 1e-9;

    /// <summary>More than the fastest bus carries in a century.</summary>
    private const double MostBits = 1e18;

    /// <summary>Of a node, in any protocol with addresses of a byte.</summary>
    public const int HighestAddress = 255;

    /// <param name="bus">Of a report document.</param>
    /// <param name="spanSeconds">Of the whole document, for one that doesn't say how much of it was heard.</param>
    public static ObservedBus Of(BusReport bus, double spanSeconds)
    {
        // Documents of older versions have neither the heard time nor the bits. Nobody hears for longer than the record lasts, and a long silence that was not listened to would prove too much.
        double span = Math.Max(0, spanSeconds);
        Totals totals = Totals.Of(bus);
        totals = totals with
        {
            HeardSeconds = totals.HeardSeconds >= LeastSeconds ? Math.Min(totals.HeardSeconds, span) : span,
            Frames = Math.Max(0, totals.Frames),
            Bits = totals.Bits is >= 1 and <= MostBits ? totals.Bits : null,
            ErrorEpisodes = Bounded(totals.ErrorEpisodes),
            Restarts = Bounded(totals.Restarts),
        };
        return new(
            bus.Interface,
            totals,
            [.. bus.Nodes.Where(node => node.Address is >= 0 and <= HighestAddress).DistinctBy(node => node.Address).Select(ObservedNode.Of)])
        {
            LoadMean = Finite(bus.LoadMean),
            LoadPeak = Finite(bus.LoadPeak1s),
            ErrorReporting = bus.ErrorReporting,
            Identifiers = bus.Identifiers,
        };
    }

    private static double? Finite(double? value) => value is double number && double.IsFinite(number) ? number : null;

    internal static long? Bounded(long? count) => count is long number ? Math.Clamp(number, 0, MostCounted) : null;
}
