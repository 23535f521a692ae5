namespace Diagnostics.Agent.Chronicles;

/// <summary>One bus in a stretch of time.</summary>
/// <param name="Interface">Its name.</param>
/// <param name="SeesErrors">Its adapter reports errors, so that none means none.</param>
/// <param name="Columns">In order of time.</param>
internal sealed record BusStretch(string Interface, bool SeesErrors, IReadOnlyList<TimeColumn> Columns);
