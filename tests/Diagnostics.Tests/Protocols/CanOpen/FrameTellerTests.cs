using Diagnostics.Can;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Protocols.CanOpen;

namespace Diagnostics.Tests.Protocols.CanOpen;

/// <summary>What each frame means, in words. Identifiers and layouts as in CiA 301.</summary>
public sealed class FrameTellerTests
{
    private readonly FrameTeller _teller = new(null, new Dictionary<int, string> { [5] = "workshop buttons" });

    private string Tell(uint id, params byte[] data) => _teller.Tell(CanFrame.Classic(new(0), CanId.Base(id), data)).English;

    [Theory]
    [InlineData(0x000, "0100", "Network command to all nodes: start")]
    [InlineData(0x000, "8109", "Network command to node 9: restart")]
    [InlineData(0x705, "00", "workshop buttons (node 5) has started (boot-up)")]
    [InlineData(0x705, "05", "Heartbeat of workshop buttons (node 5): operational")]
    [InlineData(0x080, "", "SYNC, the common beat")]
    [InlineData(0x100, "000000000000", "TIME, the time of day")]
    [InlineData(0x089, "3081110000000000", "Emergency message of node 9: guarding or heartbeat of another node is missing (code 8130h); error register: generic error, communication")]
    [InlineData(0x609, "4017100000000000", "node 9 is asked for heartbeat time (1017h:00)")]
    [InlineData(0x7E5, "0400", "Setting of addresses (LSS), request")]
    [InlineData(0x7FF, "01", "Data frame, not of CANopen")]
    [InlineData(0x000, "01", "a network command of the wrong length")]
    [InlineData(0x705, "", "a heartbeat without content")]
    public void AFrameByItself(uint id, string data, string words) => Assert.Equal(words, Tell(id, Convert.FromHexString(data)));

    [Fact]
    public void AnAnswerSaysWhatTheObjectIs()
    {
        Tell(0x605, 0x40, 0x17, 0x10, 0x00, 0, 0, 0, 0);
        Assert.Equal("workshop buttons (node 5) answers about heartbeat time (1017h:00); it is 1000 (03E8h)", Tell(0x585, 0x4B, 0x17, 0x10, 0x00, 0xE8, 0x03, 0, 0));
        Tell(0x605, 0x2B, 0x17, 0x10, 0x00, 0xF4, 0x01, 0, 0);
        Assert.Equal("workshop buttons (node 5) confirms heartbeat time (1017h:00); it is now 500 (01F4h)", Tell(0x585, 0x60, 0x17, 0x10, 0x00, 0, 0, 0, 0));
        Tell(0x605, 0x40, 0x99, 0x20, 0x00, 0, 0, 0, 0);
        Assert.Equal("workshop buttons (node 5) refuses; the object does not exist (code 06020000h)", Tell(0x585, 0x80, 0x99, 0x20, 0x00, 0x00, 0x00, 0x02, 0x06));
    }

    [Fact]
    public void ProcessDataSaysWhatChanged()
    {
        Assert.Equal("Process data of workshop buttons (node 5) (TPDO1); input 1 is active", Tell(0x185, 0x01));
        Assert.Equal("Process data of workshop buttons (node 5) (TPDO1); nothing changed that is known", Tell(0x185, 0x01));
        Assert.Equal("Process data of workshop buttons (node 5) (TPDO1); inputs 2, 3 became active; input 1 became inactive", Tell(0x185, 0x06));
        Assert.Equal("Process data for node 9 (RPDO1); all outputs are commanded off", Tell(0x209, 0x00));
        Assert.Equal("Process data for node 9 (RPDO1); output 8 is commanded on", Tell(0x209, 0x80));
    }

    /// <summary>A frame that isn't shown still counts for those behind it.</summary>
    [Fact]
    public void WhatIsOnlyHeardIsRememberedAndNotSaid()
    {
        _teller.Hear(CanFrame.Classic(new(0), CanId.Base(0x185), [0x01]));
        Assert.Equal("Process data of workshop buttons (node 5) (TPDO1); input 2 became active", Tell(0x185, 0x03));
    }

    [Fact]
    public void ErrorsAndOtherFormsHaveWordsToo()
    {
        CanFrame stuff = CanFrame.ErrorReport(new(0), 0x88, [0, 0, 4, 0x0A, 0, 0, 0, 0]);
        Assert.Equal("Error on the wire: more than five equal bits in a row (stuff error)", _teller.Tell(stuff).English);
        Assert.Equal("Our adapter went off the bus (bus-off)", _teller.Tell(CanFrame.ErrorReport(new(0), 0x40, new byte[8])).English);
        Assert.Equal("workshop buttons (node 5) is asked for its state (guarding)", _teller.Tell(CanFrame.RemoteRequest(new(0), CanId.Base(0x705), 1)).English);
        Assert.Equal("Data frame, not of CANopen", _teller.Tell(CanFrame.Classic(new(0), CanId.Extended(0x18EEFF21), [1])).English);
    }

    /// <summary>Whatever comes, there are words and no exception.</summary>
    [Fact]
    public void AnyFrameHasWords()
    {
        Random random = new(11);
        FrameTeller teller = new(new AsBuiltRecord());
        for (int round = 0; round < 200_000; round++)
        {
            byte[] data = new byte[random.Next(9)];
            random.NextBytes(data);
            CanFrame frame = CanFrame.Classic(new(round * 1_000_000L), random.Next(20) == 0 ? CanId.Extended((uint)random.Next(1 << 29)) : CanId.Base((uint)random.Next(0x800)), data);
            frame.Flags = random.Next(30) == 0 ? (FrameFlags)random.Next(64) : FrameFlags.None;
            if (random.Next(3) == 0)
            {
                teller.Hear(frame);
            }
            else
            {
                Assert.NotEmpty(teller.Tell(frame).English);
            }
        }
    }
}
