namespace Diagnostics.KernelGuest;

/// <summary>Whole seconds, as many as were played.</summary>
internal sealed class PlayedClock : TimeProvider
{
    private long _seconds;

    public long Seconds
    {
        get => Volatile.Read(ref _seconds);
        set => Volatile.Write(ref _seconds, value);
    }

    public override long TimestampFrequency => 1;

    public override long GetTimestamp() => Seconds;
}
