using Diagnostics.Can;

namespace Diagnostics.Agent.Bundles;

/// <summary>What a bundle says of itself: when and from what it was made, what it covers, what was left out, and the length and hash of every other file in it.</summary>
internal sealed record BundleManifest
{
    /// <summary>Raised when an older program could no longer make sense of a bundle. Members and files are added without raising it.</summary>
    public const int CurrentFormat = 1;

    public required int Format { get; init; }

    /// <summary>By the clock of the board that made it.</summary>
    public required Instant Made { get; init; }

    /// <summary>Version of the program that made it.</summary>
    public required string Program { get; init; }

    /// <summary>Made by the service while it was listening; otherwise from the files of a log.</summary>
    public bool FromRunningService { get; init; }

    /// <summary>Time zone of the board (IANA), so that times read as they did there; null where it has none with a name.</summary>
    public string? Zone { get; init; }

    /// <summary>Name of the site, from the as-built record.</summary>
    public string? Site { get; init; }

    /// <summary>What was listened to, as the report has it.</summary>
    public string? Source { get; init; }

    /// <summary>Earliest time in the store; null where it is empty.</summary>
    public Instant? From { get; init; }

    /// <summary>Latest time in the store.</summary>
    public Instant? To { get; init; }

    /// <summary>Somebody asked to leave out what shows when people were present.</summary>
    public bool WithoutInputs { get; init; }

    /// <summary>What is not in it that a person could expect, and why, as whole sentences.</summary>
    public IReadOnlyList<string> LeftOut { get; init; } = [];

    /// <summary>Every file but this one.</summary>
    public required IReadOnlyList<BundleFile> Files { get; init; }
}

/// <summary>One file of a bundle.</summary>
/// <param name="Path">Its name in the archive.</param>
/// <param name="Bytes">Its length.</param>
/// <param name="Sha256">Its SHA-256, 64 lower-case hexadecimal digits.</param>
internal sealed record BundleFile(string Path, long Bytes, string Sha256);
