using Diagnostics.Can;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Core.Comparison;

/// <summary>One finding in one period.</summary>
/// <param name="Report">As it stood at the end of the period.</param>
/// <param name="Began">Episodes that began within the period; 0 where the only one began before it.</param>
/// <param name="Lasts">It is open at the period's end.</param>
public sealed record ObservedFinding(FindingReport Report, long Began, bool Lasts)
{
    /// <summary>First evidence; earlier than the report's own where the program was started anew in between.</summary>
    public Instant First { get; init; } = Report.Start;
}
