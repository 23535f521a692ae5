using Diagnostics.Can;

namespace Diagnostics.Tests.Boards.Emulated;

/// <summary>The time of an emulated I2C bus: it goes on by what its transfers take, and by what is waited, never by itself.</summary>
internal sealed class EmulatedTime
{
    public TimeSpan Now { get; private set; } = TimeSpan.FromSeconds(1);

    public Instant Line => new((long)Now.TotalNanoseconds);

    public void Pass(TimeSpan span) => Now += span;
}
