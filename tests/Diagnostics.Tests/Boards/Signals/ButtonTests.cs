using System.Device.Gpio;
using Diagnostics.Agent.Boards.Signals;
using Diagnostics.Tests.Boards.Emulated;

namespace Diagnostics.Tests.Boards.Signals;

public class ButtonTests
{
    private readonly PressReader _reader = new();

    /// <summary>Edges as (down, milliseconds), looked at every 10 ms until the end.</summary>
    private Press[] Presses(int until, params (bool IsDown, int At)[] edges) => PressesSeenEvery(10, until, edges);

    private Press[] PressesSeenEvery(int step, int until, params (bool IsDown, int At)[] edges)
    {
        List<Press> presses = [];
        for (int now = 0; now <= until; now += step)
        {
            foreach ((bool isDown, int at) in edges.Where(edge => edge.At > now - step && edge.At <= now))
            {
                _reader.OnEdge(isDown, TimeSpan.FromMilliseconds(at));
            }

            if (_reader.OnTick(TimeSpan.FromMilliseconds(now)) is var press and not Press.None)
            {
                presses.Add(press);
            }
        }

        return [.. presses];
    }

    [Fact]
    public void AShortPressIsOne() => Assert.Equal([Press.Short], Presses(1000, (true, 100), (false, 300)));

    [Fact]
    public void AContactThatBouncesIsOnePress() =>
        Assert.Equal([Press.Short], Presses(1000, (true, 100), (false, 102), (true, 104), (false, 300), (true, 303), (false, 305)));

    [Fact]
    public void AGlitchIsNoPress() => Assert.Empty(Presses(1000, (true, 100), (false, 101)));

    [Fact]
    public void ALongPressIsToldWhileTheFingerIsThereAndOnce() => Assert.Equal([Press.Long], Presses(8000, (true, 100), (false, 7000)));

    [Fact]
    public void JustBelowLongIsShort() => Assert.Equal([Press.Short], Presses(8000, (true, 100), (false, 3090)));

    [Fact]
    public void TwoPressesAreTwo() => Assert.Equal([Press.Short, Press.Short], Presses(2000, (true, 100), (false, 300), (true, 600), (false, 800)));

    [Fact]
    public void TheNextPressMayBeginBeforeTheEndOfOneWasLookedAt()
    {
        Assert.Equal([Press.Short, Press.Long], PressesSeenEvery(100, 5000, (true, 110), (false, 310), (true, 360), (false, 4000)));
        Assert.Equal([Press.Long, Press.Long], PressesSeenEvery(100, 9000, (true, 110), (false, 4010), (true, 4060), (false, 8000)));
    }

    [Fact]
    public void ALongPressThatNobodyLookedAtIsLong() => Assert.Equal([Press.Long], PressesSeenEvery(5000, 10_000, (true, 100), (false, 3100)));

    [Fact]
    public void LettingGoOfWhatWasNeverPressedIsNothing() => Assert.Empty(Presses(1000, (false, 100)));

    /// <summary>Through the real binding: a line with a pull-up that is closed to ground.</summary>
    [Fact]
    public void TheBindingGivesTheEdgesOfTheLine()
    {
        EmulatedGpio driver = new();
        TimeSpan now = TimeSpan.FromSeconds(1);
        using (MarkerButton button = new(new GpioController(driver), 22, () => now))
        {
            Assert.Equal(Press.None, button.Look());
            driver.Set(22, isHigh: false);
            now += TimeSpan.FromMilliseconds(200);
            Assert.Equal(Press.None, button.Look());
            driver.Set(22, isHigh: true);
            now += PressReader.Bounce;
            Assert.Equal(Press.Short, button.Look());
            driver.Set(22, isHigh: false);
            now += PressReader.Long;
            Assert.Equal(Press.Long, button.Look());
        }

        Assert.Empty(driver.Open);
    }
}
