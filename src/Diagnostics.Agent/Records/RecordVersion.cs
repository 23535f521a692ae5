using Diagnostics.Can;

namespace Diagnostics.Agent.Records;

/// <summary>A version of the as-built record that was saved on the page.</summary>
/// <param name="Number">Counted from 1; 0 stands for the record that the service was given.</param>
/// <param name="Made">When, by the board's clock, which may have been wrong: numbers tell the order.</param>
/// <param name="Origin">What made it.</param>
/// <param name="From">The version that it says again; null where it was edited or imported.</param>
/// <param name="Basis">SHA-256 of the record that the service was given then, hexadecimal; null = it was given none.</param>
internal sealed record RecordVersion(int Number, Instant Made, RecordOrigin Origin, int? From, string? Basis);

/// <summary>What made a version. Names are stored and never renamed.</summary>
internal enum RecordOrigin
{
    Edited,
    Imported,

    /// <summary>An earlier one was taken again.</summary>
    Again,
}
