namespace Diagnostics.Agent.Chronicles;

/// <summary>One bus in one column of time. A column that no row covers is not seen, which is something else than quiet.</summary>
/// <param name="CoveredSeconds">What of it rows tell of; 0 = not seen.</param>
/// <param name="HeardSeconds">What of it was heard.</param>
/// <param name="LoadMean">Ratio; null where it isn't known.</param>
/// <param name="LoadPeak">Highest second, ratio.</param>
/// <param name="Errors">Errors on the wire.</param>
/// <param name="Restarts">Restarts of nodes that nothing explains; null in rows of an older version.</param>
/// <param name="NodesPresent">The most nodes that were heard within their time; null where no row ends, since a row counts them at its end.</param>
/// <param name="IsCoarse">Only rows longer than the column are left: what they count may lie in a column beside it.</param>
internal readonly record struct TimeColumn(
    double CoveredSeconds, double HeardSeconds, double? LoadMean, double? LoadPeak, long Errors, long? Restarts, int? NodesPresent, bool IsCoarse)
{
    /// <summary>Less than this part of what rows cover is a gap that a person should see.</summary>
    private const double WholeEnough = 0.98;

    public bool IsSeen => CoveredSeconds > 0;

    /// <summary>Rows tell of it, and say that part of it was not heard.</summary>
    public bool HasHole => IsSeen && HeardSeconds < CoveredSeconds * WholeEnough;
}
