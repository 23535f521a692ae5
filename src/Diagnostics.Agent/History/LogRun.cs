using Diagnostics.Can;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.History;

/// <summary>One run of the service, as the log has it.</summary>
/// <param name="Start">When it began; null for the one whose beginning the log has let go.</param>
/// <param name="Findings">Every version of every finding that was written, with the moment at which it stood so, in order.</param>
/// <param name="NodeEvents">What happened to nodes, in the order in which it was written.</param>
internal sealed record LogRun(Instant? Start, IReadOnlyList<(Instant Time, FindingReport Finding)> Findings, IReadOnlyList<NodeEvent> NodeEvents);
