using System.Text;
using Diagnostics.Agent.Buses;
using Diagnostics.Can;

namespace Diagnostics.Tests.Buses;

/// <summary>Numbers and layouts: linux/netlink.h, linux/rtnetlink.h, linux/if_link.h, linux/can/netlink.h (6.1 headers).</summary>
public class LinkMessageTests
{
    /// <summary>
    /// Recorded: what Linux 6.1.176 answered to the request below for can0, a serial-line adapter in listen-only that a program played (line
    /// discipline 17), after one data frame, then 96 and then 128 receive errors; "ip -d -s link" beside it said the same values.
    /// </summary>
    private const string Recorded =
        "800300001000000005000000B80200000000180102000000C1000100000000000900030063616E300000000008000D000A000000050010000600000005001100" +
        "0000000008000400100000000800320000000000080033000000000008001B000000000008001E000000000008003D000000000008001F000100000008002800" +
        "FFFF0000080029000000010008003A000000010008003B000000010008003C00FFFF000005002100010000000F000600706669666F5F66617374000008002300" +
        "0100000008002F00010000000800300000000000050027000000000024000E000000000000000000000000000000000000000000000000000000000000000000" +
        "04002A00CC0017000100000000000000000000000000000002000000000000000000000000000000000000000000000000000000000000000000000000000000" +
        "00000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000" +
        "00000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000" +
        "00000000000000000000000000000000640007000100000000000000020000000000000000000000000000000000000000000000000000000000000000000000" +
        "000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000C002B000500020000000000" +
        "B00012000800010063616E001C000300000000000100000001000000000000000000000000000000880002002400010048E80100000000000000000000000000" +
        "00000000000000000000000000000000080003000000000008000400020000000C0005000000000002000000080006000000000028000D0010270000204E0000" +
        "50C30000A086010048E8010090D0030020A1070000350C0040420F0008000F00000000000C001180080001000200000090001A008C0002008800010000000000" +
        "00000000000000000100000001000000010000000100000000000000010000000000000000000000000000000000000000000000000000000000000000000000" +
        "00000000000000000000000000000000000000000000000000000000000000000000000010270000E80300000000000000000000000000000000000001000000";

    private static byte[] Words(params uint[] words) => [.. words.SelectMany(BitConverter.GetBytes)];

    private static byte[] Attribute(ushort type, params byte[] value)
    {
        byte[] bytes = new byte[(4 + value.Length + 3) & ~3];
        BitConverter.GetBytes((ushort)(4 + value.Length)).CopyTo(bytes, 0);
        BitConverter.GetBytes(type).CopyTo(bytes, 2);
        value.CopyTo(bytes, 4);
        return bytes;
    }

    private static byte[] Text(string text) => [.. Encoding.ASCII.GetBytes(text), 0];

    private static byte[] Message(ushort type, params byte[] body) =>
        [.. Words((uint)(16 + body.Length)), .. BitConverter.GetBytes(type), 0, 0, .. Words(1, 0), .. body];

    private static byte[] Link(string name, uint flags, byte[] linkInfo, ushort hardware = 280, ushort type = 16) =>
        Message(type, [0, 0, .. BitConverter.GetBytes(hardware), .. Words(7, flags, 0), .. Attribute(3, Text(name)), .. Attribute(18, linkInfo)]);

    private static LinkFacts One(byte[] datagram)
    {
        List<LinkFacts> links = [];
        LinkAnswer answer = LinkMessage.Read(datagram, links);
        Assert.Equal(0, answer.Damaged);
        return Assert.Single(links);
    }

    private static byte[] Can(uint state, ushort transmitErrors, ushort receiveErrors, uint modes = 0) =>
    [
        .. Attribute(1, Text("can")),
        .. Attribute(
            0x8000 | 2,
            [
                .. Attribute(1, Words(125_000, 875, 250, 6, 7, 2, 1, 4)),
                .. Attribute(4, Words(state)),
                .. Attribute(5, Words(0, modes)),
                .. Attribute(6, Words(100)),
                .. Attribute(8, [.. BitConverter.GetBytes(transmitErrors), .. BitConverter.GetBytes(receiveErrors)]),
                .. Attribute(9, Words(500_000, 800, 0, 0, 0, 0, 0, 0)),
                .. Attribute(11, BitConverter.GetBytes((ushort)120)),
                .. Attribute(22, Words(1, 2, 3)),
            ]),

        // The sample counts of Documentation/networking/can.rst: bus errors 17457, warnings 41, passives 42, bus-offs 41, arbitrations lost 0, restarts 41.
        .. Attribute(3, Words(17_457, 41, 42, 41, 0, 41)),
    ];

    [Fact]
    public void EverythingTheKernelSaysOfAControllerIsRead()
    {
        LinkFacts link = One(Link("can0", 0x10041, Can(1, 3, 97, modes: 0x12)));
        Assert.Equal(
            new LinkFacts(7, "can0")
            {
                Kind = "can",
                IsCan = true,
                IsUp = true,
                IsRunning = true,
                BitRate = 125_000,
                DataBitRate = 500_000,
                SamplePointRatio = 0.875,
                Modes = ControlModes.ListenOnly | ControlModes.ErrorReporting,
                State = ControllerState.ErrorWarning,
                TransmitErrorCounter = 3,
                ReceiveErrorCounter = 97,
                RestartMilliseconds = 100,
                TerminationOhms = 120,
                Counts = new(17_457, 41, 42, 41, 0, 41),
            },
            link);
        Assert.Equal(
            new InterfaceFacts("can0")
            {
                BitRate = 125_000,
                DataBitRate = 500_000,
                ListenOnly = true,
                ErrorReporting = true,
                State = ControllerState.ErrorWarning,
                TransmitErrorCounter = 3,
                ReceiveErrorCounter = 97,
            },
            link.ToInterfaceFacts());
    }

    [Fact]
    public void AnswerOfARealKernelIsRead() =>
        Assert.Equal(
            new LinkFacts(2, "can0")
            {
                Kind = "can",
                IsCan = true,
                IsUp = true,
                IsRunning = true,
                BitRate = 125_000,
                Modes = ControlModes.ListenOnly,
                State = ControllerState.ErrorPassive,
                RestartMilliseconds = 0,
                Counts = new(0, 1, 1, 0, 0, 0),
                FramesReceived = 1,
                FramesTransmitted = 0,
            },
            One(Convert.FromHexString(Recorded)));

    /// <summary>Contradictions quoted on the linux-can list (a driver's bug) and in a public bug report; passed on as they were said.</summary>
    [Theory]
    [InlineData(0, 128, 0)]
    [InlineData(0, 126, 0)]
    [InlineData(1, 0, 124)]
    [InlineData(2, 0, 136)]
    public void StateThatContradictsTheCountersIsPassedOn(uint state, ushort transmitErrors, ushort receiveErrors)
    {
        LinkFacts link = One(Link("can0", 0x41, Can(state, transmitErrors, receiveErrors)));
        Assert.Equal(
            ((ControllerState)state, (int)transmitErrors, (int)receiveErrors),
            (link.State!.Value, link.TransmitErrorCounter!.Value, link.ReceiveErrorCounter!.Value));
    }

    [Fact]
    public void StateBeyondTheKnownOnesIsUnknown() => Assert.Null(One(Link("can0", 0x41, Can(6, 0, 0))).State);

    [Fact]
    public void VirtualInterfaceSaysNothingOfAController()
    {
        LinkFacts link = One(Link("vcan0", 0x1, Attribute(1, Text("vcan"))));
        Assert.Equal(new LinkFacts(7, "vcan0") { Kind = "vcan", IsCan = true, IsUp = true }, link);
        Assert.Equal(new InterfaceFacts("vcan0"), link.ToInterfaceFacts());
    }

    [Fact]
    public void OtherLinksKeepTheirOwnMeanings()
    {
        LinkFacts link = One(Link("eth0", 0x41, [.. Attribute(1, Text("bridge")), .. Attribute(2, Attribute(4, Words(2))), .. Attribute(3, new byte[24])], hardware: 1));
        Assert.False(link.IsCan);
        Assert.Null(link.State);
        Assert.Null(link.Counts);
    }

    [Fact]
    public void RemovalIsRead() => Assert.True(One(Link("can0", 0, Attribute(1, Text("can")), type: 17)).IsRemoved);

    [Fact]
    public void SeveralMessagesAndTheEndAreRead()
    {
        List<LinkFacts> links = [];
        byte[] datagram = [.. Link("can0", 0, []), .. Message(99, 1, 2, 3, 4), .. Link("can1", 1, []), .. Message(3, 0, 0, 0, 0)];
        Assert.Equal(new LinkAnswer(true, 0, 0), LinkMessage.Read(datagram, links));
        Assert.Equal(["can0", "can1"], links.Select(link => link.Name));
    }

    [Fact]
    public void KernelsRefusalIsAnErrorNumber() =>
        Assert.Equal(new LinkAnswer(true, 19, 0), LinkMessage.Read(Message(2, [.. BitConverter.GetBytes(-19), .. new byte[16]]), []));

    [Fact]
    public void EveryTruncatedMessageIsCountedAsDamaged()
    {
        byte[] whole = Link("can0", 0x41, Can(0, 0, 0));
        for (int length = 1; length < whole.Length; length++)
        {
            List<LinkFacts> links = [];
            Assert.Equal(1, LinkMessage.Read(whole.AsSpan(0, length), links).Damaged);
            Assert.Empty(links);
        }
    }

    [Fact]
    public void DamagedAttributeSpoilsItsMessageOnly()
    {
        byte[] damaged = Link("can0", 0x41, []);
        damaged[32] = 0xFF;
        List<LinkFacts> links = [];
        Assert.Equal(1, LinkMessage.Read([.. damaged, .. Link("can1", 1, [])], links).Damaged);
        Assert.Equal("can1", Assert.Single(links).Name);
    }

    [Fact]
    public void RandomBytesNeverThrow()
    {
        Random random = new(18);
        byte[] whole = Link("can0", 0x41, Can(0, 0, 0));
        int read = 0;
        for (int i = 0; i < 20_000; i++)
        {
            byte[] spoilt = [.. whole];
            for (int flips = random.Next(1, 4); flips > 0; flips--)
            {
                spoilt[random.Next(spoilt.Length)] = (byte)random.Next(256);
            }

            List<LinkFacts> links = [];
            LinkMessage.Read(spoilt, links);
            read += links.Count;
        }

        Assert.InRange(read, 1, 20_000);
    }

    [Fact]
    public void RequestForOneInterfaceNamesIt()
    {
        byte[] buffer = new byte[LinkMessage.RequestCapacity];
        int length = LinkMessage.WriteRequest(buffer, 5, "can0");

        // nlmsghdr (length 44, RTM_GETLINK 18, NLM_F_REQUEST 1, sequence 5), ifinfomsg of zeros, IFLA_IFNAME 3 "can0".
        Assert.Equal(
            "2C000000" + "1200" + "0100" + "05000000" + "00000000" + new string('0', 32) + "0900" + "0300" + "63616E3000000000",
            Convert.ToHexString(buffer, 0, length));
    }

    [Fact]
    public void RequestForAllIsADump()
    {
        byte[] buffer = new byte[LinkMessage.RequestCapacity];
        Assert.Equal(32, LinkMessage.WriteRequest(buffer, 1, null));
        Assert.Equal("2000000012000103", Convert.ToHexString(buffer, 0, 8));
    }
}
