using Diagnostics.Can;

namespace Diagnostics.Agent.History;

/// <summary>
/// A person took note of a finding (acknowledge, IEC 62682): it doesn't go away by that, and it holds for the episode that was taken note of. What comes back asks again.
/// </summary>
/// <param name="Time">When.</param>
/// <param name="Key">Of the finding.</param>
/// <param name="Start">Its first evidence: with the key it names one finding of one run.</param>
/// <param name="Count">Episodes so far.</param>
/// <param name="Note">What the person wrote; may be empty.</param>
internal sealed record Acknowledgement(Instant Time, string Key, Instant Start, int Count, string Note);
