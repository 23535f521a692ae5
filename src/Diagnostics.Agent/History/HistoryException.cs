namespace Diagnostics.Agent.History;

/// <summary>The log can't be opened, read or written; the analysis goes on without it.</summary>
internal sealed class HistoryException : Exception
{
    public HistoryException(string message)
        : base(message)
    {
    }

    public HistoryException(string message, Exception inner)
        : base(message, inner)
    {
    }

    /// <summary>Only frames around a finding or a mark are missing; all else is kept.</summary>
    public bool IsOfFrames { get; init; }
}
