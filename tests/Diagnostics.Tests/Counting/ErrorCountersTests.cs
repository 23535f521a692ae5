using Diagnostics.Can;
using Diagnostics.Core.Counting;
using Diagnostics.Simulation;

namespace Diagnostics.Tests.Counting;

public class ErrorCountersTests
{
    /// <summary>At 125 kbit/s.</summary>
    private const double NanosecondsPerBit = 8000;

    private static readonly ErrorMessage Stuff = ErrorMessage.From(
        CanFrame.ErrorReport(default, (uint)(ErrorClasses.Protocol | ErrorClasses.BusError), [0, 0, (byte)ProtocolViolations.Stuff, 0, 0, 0, 0, 0]));

    private readonly ErrorCounters _errors = new();

    private double ExposedBy(double endMilliseconds, double bits)
    {
        double before = _errors.ExposedBits;
        _errors.OnGoodFrame(At(endMilliseconds), bits, NanosecondsPerBit);
        return _errors.ExposedBits - before;
    }

    private static Instant At(double milliseconds) => new((long)(milliseconds * 1e6));

    /// <summary>The intermission has 3 bits, and a dominant one there is an overload condition (ISO 11898-1).</summary>
    [Fact]
    public void WithoutAnErrorAllBitsButTheIntermissionAreExposed() => Assert.Equal(100, ExposedBy(10, 103));

    [Fact]
    public void BitsBehindAnErrorAreNoneInWhichANewDisturbanceWouldCount()
    {
        Assert.True(_errors.OnWireError(At(100), Stuff, 60));
        Assert.Equal(60, _errors.ExposedBits);
        Assert.Equal(0, ExposedBy(102, 103));
        Assert.Equal(0, ExposedBy(150, 103));
        Assert.Equal(50, ExposedBy(150.4, 103));
        Assert.Equal(100, ExposedBy(151.3, 103));

        // A second error of the same disturbance adds nothing, and holds on to what it shadows.
        Assert.True(_errors.OnWireError(At(200), Stuff, 60));
        Assert.False(_errors.OnWireError(At(240), Stuff, 60));
        Assert.Equal(0, ExposedBy(285, 103));
        Assert.Equal((2, 270), (_errors.Episodes, _errors.ExposedBits));
        Assert.Equal(100, ExposedBy(295, 103));
    }

    /// <summary>
    /// Errors independent of each other, so many that 50 ms swallow a fourth of them. A counter that each event, counted or not, makes blind for a time τ shows n·exp(−n·τ) of n a second (extending dead time; G. F. Knoll,
    /// Radiation Detection and Measurement, chapter 4, from memory). What is counted over the bits outside of it is the true ratio again.
    /// </summary>
    [Fact]
    public void TheRatioOfManyErrorsIsTheTrueOne()
    {
        const double FrameBits = 103;
        const double Ratio = 5e-5;
        Randomness chance = new(7, "errors");
        double time = 0;
        long errors = 0;
        double bits = 0;
        while (errors < 20_000)
        {
            long until = chance.Geometric(Ratio);
            for (; until >= FrameBits - 3; until -= (long)FrameBits - 3)
            {
                time += FrameBits * NanosecondsPerBit;
                bits += FrameBits;
                _errors.OnGoodFrame(new((long)time), FrameBits, NanosecondsPerBit);
            }

            time += until * NanosecondsPerBit;
            bits += until;
            errors++;
            _errors.OnWireError(new((long)time), Stuff, until);
        }

        double shown = errors * Math.Exp(-errors / time * 50e6);
        Assert.Equal(shown, _errors.Episodes, 0.02 * shown);
        (double low, double high) = ExactIntervals.Poisson(_errors.Episodes, 0.999);
        Assert.InRange(Ratio, low / _errors.ExposedBits, high / _errors.ExposedBits);
        Assert.NotInRange(Ratio, low / bits, high / bits);
    }
}
