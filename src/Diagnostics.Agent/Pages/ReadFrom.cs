using Diagnostics.Can;
using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.Pages;

/// <summary>What a page that isn't live is read from.</summary>
/// <param name="What">As words: a bundle, the log in a directory.</param>
/// <param name="Zone">Where the board is, if that is known; otherwise where the reader is.</param>
internal sealed record ReadFrom(Sentence What, TimeZoneInfo Zone)
{
    /// <summary>When a bundle was made, by the board's clock; null for a log.</summary>
    public Instant? Made { get; init; }

    /// <summary>Version of the program that made it.</summary>
    public string? Program { get; init; }

    /// <summary>The board's own zone is not known, so times are those of the machine that shows the page.</summary>
    public bool IsReadersZone { get; init; }

    /// <summary>The log holds no report document, so the page can't say how the bus stood at its end.</summary>
    public bool HasNoReport { get; init; }

    /// <summary>Changes of inputs and kept frames were left out on request.</summary>
    public bool IsWithoutInputs { get; init; }

    /// <summary>What else a reader must know about it, as whole sentences.</summary>
    public IReadOnlyList<string> Remarks { get; init; } = [];
}
