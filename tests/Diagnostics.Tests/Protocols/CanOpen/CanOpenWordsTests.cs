using Diagnostics.Core.Protocols.CanOpen;

namespace Diagnostics.Tests.Protocols.CanOpen;

/// <summary>
/// Numbers and their meaning: emergency codes CiA 301 and 401 as an open protocol stack's CO_Emergency.h lists them, abort codes as its
/// CO_SDOserver.h does.
/// </summary>
public class CanOpenWordsTests
{
    [Theory]
    [InlineData(0x0000, "no error")]
    [InlineData(0x1000, "generic")]
    [InlineData(0x2310, "overload")]
    [InlineData(0x2320, "short circuit")]
    [InlineData(0x2330, "load dump")]
    [InlineData(0x3110, "input voltage too high")]
    [InlineData(0x3120, "input voltage too low")]
    [InlineData(0x3210, "internal voltage too high")]
    [InlineData(0x3220, "internal voltage too low")]
    [InlineData(0x3310, "output voltage too high")]
    [InlineData(0x3320, "output voltage too low")]
    [InlineData(0x8110, "overrun")]
    [InlineData(0x8120, "error-passive")]
    [InlineData(0x8130, "heartbeat")]
    [InlineData(0x8140, "bus-off")]
    [InlineData(0x8150, "collision")]
    [InlineData(0x8210, "too short")]
    [InlineData(0x8220, "longer")]
    [InlineData(0x8240, "SYNC")]
    [InlineData(0x8250, "in time")]
    [InlineData(0x2101, "input side")]
    [InlineData(0x2299, "inside")]
    [InlineData(0x4201, "device temperature")]
    [InlineData(0x2F00, "current")]
    [InlineData(0x6200, "user software")]
    [InlineData(0x7012, "modules")]
    [InlineData(0x9000, "external")]
    [InlineData(0xF001, "additional functions")]
    [InlineData(0xFF01, "device specific")]
    [InlineData(0xA000, "unknown class")]
    public void EmergencyCodeIsSaidInWords(int code, string part) =>
        Assert.Contains(part, CanOpenWords.Emergency((ushort)code).English, StringComparison.Ordinal);

    [Fact]
    public void EveryEmergencyCodeHasWords()
    {
        for (int code = 0; code <= ushort.MaxValue; code++)
        {
            Assert.NotEmpty(CanOpenWords.Emergency((ushort)code).English);
        }
    }

    [Theory]
    [InlineData(0x00, "no error")]
    [InlineData(0x11, "generic error, communication")]
    [InlineData(0x0E, "current, voltage, temperature")]
    [InlineData(0xE0, "device profile, reserved bit, manufacturer specific")]
    public void ErrorRegisterNamesItsBits(byte register, string expected) => Assert.Equal(expected, CanOpenWords.ErrorRegister(register).English);

    [Fact]
    public void EveryListedAbortCodeHasItsOwnWords()
    {
        uint[] codes =
        [
            0x05030000, 0x05040000, 0x05040001, 0x05040002, 0x05040003, 0x05040004, 0x05040005, 0x06010000, 0x06010001, 0x06010002, 0x06020000,
            0x06040041, 0x06040042, 0x06040043, 0x06040047, 0x06060000, 0x06070010, 0x06070012, 0x06070013, 0x06090011, 0x06090030, 0x06090031,
            0x06090032, 0x06090036, 0x060A0023, 0x08000000, 0x08000020, 0x08000021, 0x08000022, 0x08000023, 0x08000024,
        ];

        string[] words = [.. codes.Select(CanOpenWords.SdoAbort)];
        Assert.DoesNotContain(words, word => word.StartsWith("unknown", StringComparison.Ordinal));
        Assert.Equal(codes.Length, words.Distinct().Count());
        Assert.Equal("unknown abort code DEADBEEFh", CanOpenWords.SdoAbort(0xDEADBEEF));
        Assert.Equal("the sub-index does not exist", CanOpenWords.SdoAbort(0x06090011));
    }

    [Fact]
    public void CommandsStatesAndObjectsHaveNames()
    {
        Assert.Equal("go to pre-operational", CanOpenWords.Command((NmtCommand)128));
        Assert.Equal("unknown command 3", CanOpenWords.Command((NmtCommand)3));
        Assert.Equal("operational", CanOpenWords.State((NodeState)5));
        Assert.Equal("unknown state 9", CanOpenWords.State((NodeState)9));
        Assert.Equal("heartbeat time", CanOpenWords.ObjectName(0x1017));
        Assert.Equal("mapping of TPDO2", CanOpenWords.ObjectName(0x1A01));
        Assert.Equal("settings of RPDO1", CanOpenWords.ObjectName(0x1400));
        Assert.Equal("object 2110h", CanOpenWords.ObjectName(0x2110));
    }
}
