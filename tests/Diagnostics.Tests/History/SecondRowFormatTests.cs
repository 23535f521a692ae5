using Diagnostics.Agent.History;
using Diagnostics.Can;

namespace Diagnostics.Tests.History;

public class SecondRowFormatTests
{
    private static readonly Instant Start = new(1_795_608_000_123_456_789);

    private static readonly TrafficRow Full = new(Start, 1.000123456, "can0", 0.076352, 0.081, 105, 7, 20)
    {
        HeardSeconds = 0.999999999,
        Bits = 9_544,
        ErrorEpisodes = 3,
        Restarts = 1,
    };

    [Fact]
    public void EveryMemberComesBack()
    {
        // A member that is added to rows has to be added to the format, and to this row.
        Assert.Equal(13, typeof(TrafficRow).GetProperties().Length);
        Assert.DoesNotContain(typeof(TrafficRow).GetProperties(), property => property.GetValue(Full) is null or 0 or 0L or 0.0);
        Assert.Equal(Full, SecondRowFormat.Read(SecondRowFormat.Write(Full), Start));
    }

    [Fact]
    public void WhatIsNotKnownStaysUnknown()
    {
        for (int known = 0; known < 64; known++)
        {
            TrafficRow row = Full with
            {
                LoadMean = (known & 1) == 0 ? null : 0.25,
                LoadPeak = (known & 2) == 0 ? null : 1.5,
                HeardSeconds = (known & 4) == 0 ? null : 0,
                Bits = (known & 8) == 0 ? null : 125_000,
                ErrorEpisodes = (known & 16) == 0 ? null : 0,
                Restarts = (known & 32) == 0 ? null : long.MaxValue,
            };
            Assert.Equal(row, SecondRowFormat.Read(SecondRowFormat.Write(row), Start));
        }
    }

    [Fact]
    public void ALoadKeepsAMillionth()
    {
        TrafficRow read = SecondRowFormat.Read(SecondRowFormat.Write(Full with { LoadMean = 1 / 3.0, Bits = 9_544.4 }), Start)!;
        Assert.Equal(0.333333, read.LoadMean);
        Assert.Equal(9_544, read.Bits);
    }

    [Fact]
    public void ItIsShort() => Assert.InRange(SecondRowFormat.Write(Full).Length, 20, 40);

    [Fact]
    public void NoTruncationAndNoByteOfItIsAnException()
    {
        byte[] whole = SecondRowFormat.Write(Full);
        for (int length = 0; length < whole.Length; length++)
        {
            Assert.Null(SecondRowFormat.Read(whole.AsSpan(0, length), Start));
        }

        Random chance = new(3);
        for (int round = 0; round < 20_000; round++)
        {
            byte[] changed = (byte[])whole.Clone();
            chance.NextBytes(changed.AsSpan(chance.Next(changed.Length), 1));
            SecondRowFormat.Read(changed, Start);
            chance.NextBytes(changed);
            SecondRowFormat.Read(changed, Start);
        }
    }

    [Fact]
    public void WhatALaterVersionWroteIsPassedOver() => Assert.Null(SecondRowFormat.Read([2, .. SecondRowFormat.Write(Full)[1..]], Start));
}
