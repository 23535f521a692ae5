namespace Diagnostics.Agent.Boards;

/// <summary>What the board's kernel says about the board at one moment; null = it doesn't say.</summary>
/// <param name="SupplyIsLow">The voltage that the board runs on is below what it needs.</param>
/// <param name="IsThrottled">The processor is kept slow, because it is hot or its supply is weak.</param>
/// <param name="ThrottleCount">How often it was since the board started.</param>
/// <param name="Celsius">The hottest part of the processor, °C.</param>
/// <param name="FreeBytes">Room on the disk of the log; null without a log.</param>
internal sealed record BoardReading(bool? SupplyIsLow, bool? IsThrottled, long? ThrottleCount, double? Celsius, long? FreeBytes)
{
    /// <summary>The supply was too low at some time since the board started.</summary>
    public bool? SupplyWasLow { get; init; }

    /// <summary>The disk of the log can only be read, as the kernel makes it after it has failed.</summary>
    public bool? DiskIsReadOnly { get; init; }
}
