using System.Net;
using Diagnostics.Agent;
using Diagnostics.Agent.Access;

namespace Diagnostics.Tests.Access;

public class GuessThrottleTests
{
    private readonly HandClock _clock = new();
    private readonly GuessThrottle _throttle;

    public GuessThrottleTests() => _throttle = new(_clock);

    private static IPAddress Device(int number) => new([10, 0, (byte)(number >> 8), (byte)number]);

    [Fact]
    public void AfterFiveTriesEachWaitIsTwiceTheOneBeforeUpToFiveMinutes()
    {
        List<double> waits = [];
        for (int count = 0; count < 20; count++)
        {
            Assert.True(_throttle.TryBegin(Device(1), out _));
            _throttle.TryBegin(Device(1), out TimeSpan wait);
            if (count >= GuessThrottle.FreeTries - 1)
            {
                waits.Add(wait.TotalSeconds);
                _clock.Move(wait);
            }
            else
            {
                // The second call was a try too.
                count++;
            }
        }

        Assert.Equal([1, 2, 4, 8, 16, 32, 64, 128, 256, 300, 300], waits.Take(11));
    }

    [Fact]
    public void WhoWaitsIsNotPunishedForAskingAndIsForgottenAfterAnHour()
    {
        for (int count = 0; count < GuessThrottle.FreeTries; count++)
        {
            Assert.True(_throttle.TryBegin(Device(1), out _));
        }

        for (int count = 0; count < 1000; count++)
        {
            Assert.False(_throttle.TryBegin(Device(1), out TimeSpan wait));
            Assert.Equal(1, wait.TotalSeconds);
        }

        _clock.Move(TimeSpan.FromHours(1));
        Assert.True(_throttle.TryBegin(Device(1), out _));
        Assert.True(_throttle.TryBegin(Device(1), out _));
    }

    [Fact]
    public void ThousandsOfAddressesGuessNoFasterThanTheirShareAndDontHoldUpWhoIsKnown()
    {
        Assert.True(_throttle.TryBegin(Device(1), out _));
        _throttle.Succeeded(Device(1));
        int tried = 0;
        for (int second = 0; second < 3600; second++)
        {
            for (int number = 0; number < 20; number++)
            {
                tried += _throttle.TryBegin(Device(2 + (second * 20) + number), out _) ? 1 : 0;
            }

            _clock.Move(TimeSpan.FromSeconds(1));
        }

        Assert.InRange(tried, 360, 360 + GuessThrottle.TriesOfStrangers + 1);
        Assert.True(_throttle.TryBegin(Device(1), out _));
    }

    [Fact]
    public void ADeviceWithManyAddressesOfOneNetworkIsOneDevice()
    {
        for (int count = 0; count < GuessThrottle.FreeTries; count++)
        {
            Assert.True(_throttle.TryBegin(IPAddress.Parse($"2001:db8::{count + 1}"), out _));
        }

        Assert.False(_throttle.TryBegin(IPAddress.Parse("2001:db8::ffff:1"), out _));
        Assert.True(_throttle.TryBegin(IPAddress.Parse("2001:db8:0:1::1"), out _));
        Assert.Equal(IPAddress.Parse("192.0.2.7"), GuessThrottle.Network(IPAddress.Parse("::ffff:192.0.2.7")));
    }
}
