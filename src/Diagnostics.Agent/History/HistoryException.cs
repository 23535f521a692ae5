using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.History;

/// <summary>The log can't be opened, read or written; the analysis goes on without it.</summary>
/// <param name="said">What, as whole sentences.</param>
/// <param name="inner">What the system said.</param>
internal sealed class HistoryException(Sentence said, Exception? inner = null) : Exception(said.English, inner)
{
    public Sentence Said => said;

    /// <summary>Only frames around a finding or a mark are missing; all else is kept.</summary>
    public bool IsOfFrames { get; init; }
}
