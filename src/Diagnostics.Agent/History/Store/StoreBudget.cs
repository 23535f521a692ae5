namespace Diagnostics.Agent.History.Store;

/// <summary>
/// How the log's size is shared. A second row takes 65 bytes, another row about 270, so with the usual 512 MB and one bus: second rows for three days, minute rows for three months, quarter-hour rows
/// for two years, hour rows for six, what sensors measured by the minute for a month with all of them fitted, 77 MB of frames around findings and marks; events are the last to go. The index takes up to twice what it holds.
/// </summary>
internal static class StoreBudget
{
    /// <summary>Records behind the index that are held in memory, about 8 MB. An hour adds some hundred.</summary>
    public const int MostRecent = 25_000;

    /// <summary>How long changes of inputs are kept unless told otherwise: long enough for "it happened again, as three weeks ago", and no longer, because they show when people are present.</summary>
    public static readonly TimeSpan InputsKept = TimeSpan.FromDays(30);

    private const double EventsRatio = 0.12;
    private const double SecondsRatio = 0.04;
    private const double MinutesRatio = 0.08;
    private const double QuartersRatio = 0.05;
    private const double HoursRatio = 0.03;

    private const double InputsRatio = 0.03;

    private const double MeasuredRatio = 0.03;

    private const double CapturesRatio = 0.15;

    /// <summary>Bytes for kept frames.</summary>
    public static long Captures(long capBytes) => (long)(capBytes * CapturesRatio);

    public static IReadOnlyDictionary<StoreSeries, long> Of(long capBytes) => new Dictionary<StoreSeries, long>
    {
        [StoreSeries.Events] = (long)(capBytes * EventsRatio),
        [StoreSeries.Seconds] = (long)(capBytes * SecondsRatio),
        [StoreSeries.Minutes] = (long)(capBytes * MinutesRatio),
        [StoreSeries.Quarters] = (long)(capBytes * QuartersRatio),
        [StoreSeries.Hours] = (long)(capBytes * HoursRatio),
        [StoreSeries.Inputs] = (long)(capBytes * InputsRatio),
        [StoreSeries.Measured] = (long)(capBytes * MeasuredRatio),
    };
}
