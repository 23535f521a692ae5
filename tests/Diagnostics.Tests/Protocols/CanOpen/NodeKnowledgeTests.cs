using Diagnostics.Core.Protocols.CanOpen;

namespace Diagnostics.Tests.Protocols.CanOpen;

/// <summary>Objects of CiA 301 as the reference values list them: 1000h, 1016h, 1017h, 1018h; the others from memory.</summary>
public class NodeKnowledgeTests
{
    private readonly NodeKnowledge _knowledge = new();

    [Fact]
    public void NothingHeardIsUnknown()
    {
        Assert.Null(_knowledge.DeviceType);
        Assert.Null(_knowledge.Profile);
        Assert.Null(_knowledge.Serial);
        Assert.Null(_knowledge.HeartbeatMilliseconds);
        Assert.Empty(_knowledge.WatchedHeartbeats);
        Assert.Equal(default, _knowledge.Transmit(1));
    }

    [Fact]
    public void IdentityAndTypeAreLearned()
    {
        Apply(0x1000, 0, "91010700");
        Apply(0x1018, 1, "78563412");
        Apply(0x1018, 2, "01000000");
        Apply(0x1018, 3, "02000100");
        Apply(0x1018, 4, "FFFFFFFF");

        Assert.Equal(401, _knowledge.Profile);
        Assert.Equal(0x00070191u, _knowledge.DeviceType);
        Assert.Equal(0x12345678u, _knowledge.Vendor);
        Assert.Equal(1u, _knowledge.Product);
        Assert.Equal(0x00010002u, _knowledge.Revision);
        Assert.Equal(uint.MaxValue, _knowledge.Serial);
    }

    [Fact]
    public void TimesAndPdoSettingsAreLearned()
    {
        Apply(0x1017, 0, "E803");
        Apply(0x100C, 0, "6400");
        Apply(0x100D, 0, "03");
        Apply(0x1800, 2, "FF");
        Apply(0x1800, 3, "6400");
        Apply(0x1800, 5, "D007");
        Apply(0x1803, 5, "0100");

        Assert.Equal((ushort)1000, _knowledge.HeartbeatMilliseconds!.Value);
        Assert.Equal((ushort)100, _knowledge.GuardTimeMilliseconds!.Value);
        Assert.Equal((byte)3, _knowledge.LifeTimeFactor!.Value);
        Assert.Equal(new TransmitSettings(255, 100, 2000), _knowledge.Transmit(1));
        Assert.Equal(new TransmitSettings(null, null, 1), _knowledge.Transmit(4));
    }

    [Fact]
    public void WatchedHeartbeatsAreKeptBySubIndexAndSwitchedOffByZero()
    {
        // Bits 0–15 time in ms, 16–23 address.
        Apply(0x1016, 2, "E8030700");
        Apply(0x1016, 1, "D0070500");
        Apply(0x1016, 3, "D0070000");
        Assert.Equal([new(5, 2000), new(7, 1000)], _knowledge.WatchedHeartbeats);

        Apply(0x1016, 1, "00000000");
        Apply(0x1016, 2, "B80B0700");
        Assert.Equal([new(7, 3000)], _knowledge.WatchedHeartbeats);
    }

    [Theory]
    [InlineData("43414E6F70656E", "CANopen")]
    [InlineData("410A42001B43", "A?B")]
    [InlineData("204120", "A")]
    [InlineData("C3A4", "??")]
    [InlineData("000000", null)]
    [InlineData("", null)]
    public void TextIsPrintableAndEndsAtZero(string value, string? expected)
    {
        Apply(0x1008, 0, value);
        Apply(0x1009, 0, value);
        Apply(0x100A, 0, value);

        Assert.Equal(expected, _knowledge.DeviceName);
        Assert.Equal(expected, _knowledge.HardwareVersion);
        Assert.Equal(expected, _knowledge.FirmwareVersion);
    }

    [Fact]
    public void LongTextIsCut()
    {
        Apply(0x1008, 0, string.Concat(Enumerable.Repeat("41", 200)));

        Assert.Equal(new string('A', CanOpenLimits.TextCharacters), _knowledge.DeviceName);
    }

    [Fact]
    public void EveryTruncatedValueLeavesWhatWasKnown()
    {
        Apply(0x1018, 4, "01020304");
        Apply(0x1017, 0, "E803");
        Apply(0x1016, 1, "E8030700");
        foreach (string cut in (string[])["", "09", "0909", "090909"])
        {
            Apply(0x1018, 4, cut);
            Apply(0x1016, 1, cut);
        }

        Apply(0x1017, 0, "09");
        Assert.Equal(0x04030201u, _knowledge.Serial);
        Assert.Equal((ushort)1000, _knowledge.HeartbeatMilliseconds!.Value);
        Assert.Equal([new(7, 1000)], _knowledge.WatchedHeartbeats);
    }

    [Fact]
    public void EveryObjectAndSubIndexIsTakenWithoutAnException()
    {
        for (int index = 0; index <= ushort.MaxValue; index += index is >= 0x0FF0 and < 0x1C10 ? 1 : 0x0F)
        {
            for (int subIndex = 0; subIndex < 256; subIndex += 5)
            {
                _knowledge.Apply((ushort)index, (byte)subIndex, [1, 2, 3, 4, 5, 6, 7, 8]);
            }
        }

        Assert.True(_knowledge.WatchedHeartbeats.Count() <= CanOpenLimits.HeartbeatConsumers);
    }

    private void Apply(int index, byte subIndex, string value) => _knowledge.Apply((ushort)index, subIndex, Convert.FromHexString(value));
}
