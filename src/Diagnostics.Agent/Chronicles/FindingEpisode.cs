using Diagnostics.Can;
using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.Chronicles;

/// <summary>A finding from when it was there to when it was over; one that comes and goes has several.</summary>
/// <param name="Key">Names the finding, for the life of the log.</param>
/// <param name="Finding">Name in the catalogue.</param>
/// <param name="Severity">fault, warning or note.</param>
/// <param name="Summary">As it stood last.</param>
/// <param name="From">Its first evidence; of one that came back, when that was noticed.</param>
/// <param name="To">Null while it lasts.</param>
/// <param name="EndsWithRun">It lasted when the service ended, so nobody knows when it was over.</param>
internal sealed record FindingEpisode(string Key, string Finding, string Severity, Sentence Summary, Instant From, Instant? To, bool EndsWithRun);
