namespace Diagnostics.Tests.Access;

/// <summary>A clock that a test moves.</summary>
internal sealed class HandClock : TimeProvider
{
    private TimeSpan _passed;

    public override long TimestampFrequency => TimeSpan.TicksPerSecond;

    public override long GetTimestamp() => _passed.Ticks;

    public override DateTimeOffset GetUtcNow() => DateTimeOffset.UnixEpoch + _passed;

    public void Move(TimeSpan by) => _passed += by;
}
