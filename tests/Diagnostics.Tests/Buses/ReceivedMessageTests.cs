using System.Buffers.Binary;
using Diagnostics.Agent.Buses;
using Diagnostics.Can;

namespace Diagnostics.Tests.Buses;

/// <summary>
/// Layouts: linux/can.h (can_frame 16 bytes, canfd_frame 72), linux/can/error.h, Documentation/networking/timestamping.rst 2.1, linux/net_tstamp.h,
/// asm-generic/socket.h; all as in the 6.1 headers. Bytes are little-endian, as every machine this runs on.
/// </summary>
public class ReceivedMessageTests
{
    private static byte[] Classic(uint word, byte length, string data, byte rawCode = 0)
    {
        byte[] bytes = new byte[16];
        BinaryPrimitives.WriteUInt32LittleEndian(bytes, word);
        bytes[4] = length;
        bytes[7] = rawCode;
        Convert.FromHexString(data).CopyTo(bytes, 8);
        return bytes;
    }

    private static byte[] Flexible(uint word, byte length, byte flags, byte fill)
    {
        byte[] bytes = new byte[72];
        BinaryPrimitives.WriteUInt32LittleEndian(bytes, word);
        bytes[4] = length;
        bytes[5] = flags;
        bytes.AsSpan(8, Math.Min(length, (byte)64)).Fill(fill);
        return bytes;
    }

    private static byte[] Control(params (int Level, int Type, byte[] Payload)[] messages)
    {
        List<byte> bytes = [];
        foreach ((int level, int type, byte[] payload) in messages)
        {
            bytes.AddRange(BitConverter.GetBytes((long)(16 + payload.Length)));
            bytes.AddRange(BitConverter.GetBytes(level));
            bytes.AddRange(BitConverter.GetBytes(type));
            bytes.AddRange(payload);
            while (bytes.Count % 8 != 0)
            {
                bytes.Add(0xEE);
            }
        }

        return [.. bytes];
    }

    private static byte[] Stamps(long softwareSeconds, long softwareNanoseconds, long hardwareSeconds, long hardwareNanoseconds) =>
        [.. new[] { softwareSeconds, softwareNanoseconds, 0, 0, hardwareSeconds, hardwareNanoseconds }.SelectMany(BitConverter.GetBytes)];

    [Fact]
    public void ClassicDataFrameIsRead()
    {
        Assert.Equal(ReceivedDefect.None, ReceivedMessage.TryReadFrame(Convert.FromHexString("85010000" + "03000000" + "AABBCC0000000000"), 0, out CanFrame frame));
        Assert.Equal(CanId.Base(0x185), frame.Id);
        Assert.Equal(FrameFlags.None, frame.Flags);
        Assert.Equal(3, frame.DataLengthCode);
        Assert.Equal([0xAA, 0xBB, 0xCC], frame.Bytes.ToArray());
    }

    [Fact]
    public void ExtendedFlagMakesA29BitIdentifier()
    {
        ReceivedMessage.TryReadFrame(Classic(0x98EE_FF21, 8, "1122334455667788"), 0, out CanFrame frame);
        Assert.Equal(CanId.Extended(0x18EE_FF21), frame.Id);
        Assert.Equal(8, frame.Length);
    }

    [Fact]
    public void RemoteFrameAsksAndCarriesNothing()
    {
        ReceivedMessage.TryReadFrame(Classic(0x4000_0705, 4, "FFFFFFFF"), 0, out CanFrame frame);
        Assert.True(frame.IsRemote);
        Assert.Equal(0, frame.Length);
        Assert.Equal(4, frame.DataLengthCode);
        Assert.Equal(0UL, frame.FirstEight);
    }

    [Fact]
    public void RawCodeAboveEightIsKeptOnlyWithEightBytes()
    {
        ReceivedMessage.TryReadFrame(Classic(0x123, 8, "", rawCode: 13), 0, out CanFrame frame);
        Assert.Equal((8, 13), (frame.Length, frame.DataLengthCode));
        ReceivedMessage.TryReadFrame(Classic(0x123, 7, "", rawCode: 13), 0, out frame);
        Assert.Equal((7, 7), (frame.Length, frame.DataLengthCode));
        ReceivedMessage.TryReadFrame(Classic(0x123, 8, "", rawCode: 16), 0, out frame);
        Assert.Equal((8, 8), (frame.Length, frame.DataLengthCode));
    }

    [Fact]
    public void ErrorMessageKeepsItsClassesAndCounters()
    {
        // linux/can/error.h: controller problem with counters, transmit warning reached, TEC 96, REC 0.
        ReceivedMessage.TryReadFrame(Classic(0x2000_0204, 8, "0008000000006000"), 0, out CanFrame frame);
        Assert.True(frame.IsError);
        ErrorMessage error = ErrorMessage.From(in frame);
        Assert.Equal(ErrorClasses.Controller | ErrorClasses.Counters, error.Classes);
        Assert.Equal(ControllerProblems.TransmitWarning, error.Controller);
        Assert.Equal((96, 0), (error.TransmitErrorCounter, error.ReceiveErrorCounter));
    }

    [Theory]
    [InlineData(0x00, FrameFlags.None)]
    [InlineData(0x04, FrameFlags.None)]
    [InlineData(0x05, FrameFlags.BitRateSwitch)]
    [InlineData(0x06, FrameFlags.ErrorStateIndicator)]
    [InlineData(0x07, FrameFlags.BitRateSwitch | FrameFlags.ErrorStateIndicator)]
    public void SeventyTwoBytesAreAFlexibleFrame(byte kernelFlags, FrameFlags expected)
    {
        Assert.Equal(ReceivedDefect.None, ReceivedMessage.TryReadFrame(Flexible(0x123, 64, kernelFlags, 0x5A), 0, out CanFrame frame));
        Assert.Equal(FrameFlags.Flexible | expected, frame.Flags);
        Assert.Equal(64, frame.Length);
        Assert.All(frame.Bytes.ToArray(), value => Assert.Equal(0x5A, value));
    }

    /// <summary>ISO 11898-1, DLC of CAN FD (as in linux can/length.h).</summary>
    [Theory]
    [InlineData(0, 0)]
    [InlineData(8, 8)]
    [InlineData(12, 9)]
    [InlineData(16, 10)]
    [InlineData(20, 11)]
    [InlineData(24, 12)]
    [InlineData(32, 13)]
    [InlineData(48, 14)]
    [InlineData(64, 15)]
    public void FlexibleLengthHasItsCode(byte length, byte code)
    {
        ReceivedMessage.TryReadFrame(Flexible(0x123, length, 4, 1), 0, out CanFrame frame);
        Assert.Equal(code, frame.DataLengthCode);
    }

    [Fact]
    public void FrameOfThisHostIsMarked()
    {
        // MSG_DONTROUTE = 0x4: made on this host; MSG_CONFIRM = 0x800: by this socket (can.rst).
        ReceivedMessage.TryReadFrame(Classic(0x123, 0, ""), 0x804, out CanFrame frame);
        Assert.Equal(FrameFlags.OwnHost, frame.Flags);
        ReceivedMessage.TryReadFrame(Classic(0x123, 0, ""), 0x800, out frame);
        Assert.Equal(FrameFlags.None, frame.Flags);
    }

    [Fact]
    public void EveryOtherSizeIsRefused()
    {
        for (int size = 0; size <= 80; size++)
        {
            ReceivedDefect expected = size is 16 or 72 ? ReceivedDefect.None : ReceivedDefect.UnknownSize;
            Assert.Equal(expected, ReceivedMessage.TryReadFrame(new byte[size], 0, out _));
        }
    }

    [Theory]
    [InlineData(8, false)]
    [InlineData(9, true)]
    [InlineData(255, true)]
    public void ClassicLengthBeyondEightIsRefused(byte length, bool refused)
    {
        ReceivedDefect expected = refused ? ReceivedDefect.LengthBeyondFormat : ReceivedDefect.None;
        Assert.Equal(expected, ReceivedMessage.TryReadFrame(Classic(0x123, length, ""), 0, out CanFrame frame));
        Assert.Equal(refused ? 0 : length, frame.Length);
    }

    [Fact]
    public void FlexibleLengthBeyond64IsRefused() =>
        Assert.Equal(ReceivedDefect.LengthBeyondFormat, ReceivedMessage.TryReadFrame(Flexible(0x123, 65, 4, 1), 0, out _));

    [Fact]
    public void StampsAndDropsAreRead()
    {
        ReceivedControl control = ReceivedMessage.ReadControl(Control(
            (1, 37, Stamps(1_700_000_000, 123_456_789, 42, 7)), (1, 40, BitConverter.GetBytes(17u))));
        Assert.Equal(new ReceivedControl(1_700_000_000_123_456_789, 42_000_000_007, 17u), control);
    }

    [Fact]
    public void StampOfZeroIsNone()
    {
        Assert.Equal(new ReceivedControl(5_000_000_000, null, null), ReceivedMessage.ReadControl(Control((1, 65, Stamps(5, 0, 0, 0)))));
        Assert.Equal(default, ReceivedMessage.ReadControl(default));
    }

    [Fact]
    public void UnknownControlMessagesArePassedOver()
    {
        ReceivedControl control = ReceivedMessage.ReadControl(Control((1, 99, [1, 2, 3]), (0, 37, Stamps(9, 9, 9, 9)), (1, 40, BitConverter.GetBytes(3u))));
        Assert.Equal(new ReceivedControl(null, null, 3u), control);
    }

    [Fact]
    public void EveryTruncatedControlIsReadAsFarAsItGoes()
    {
        byte[] whole = Control((1, 37, Stamps(5, 1, 0, 0)), (1, 40, BitConverter.GetBytes(3u)));
        for (int length = 0; length <= whole.Length; length++)
        {
            ReceivedControl control = ReceivedMessage.ReadControl(whole.AsSpan(0, length));
            Assert.Equal(length >= 64 ? 5_000_000_001 : null, control.SoftwareNanoseconds);
            Assert.Equal(length >= 64 + 20 ? 3u : null, control.DropTotal);
        }
    }

    [Fact]
    public void RandomBytesNeverThrow()
    {
        Random random = new(20_231_114);
        byte[] bytes = new byte[ReceivedMessage.ControlCapacity];
        int frames = 0;
        for (int i = 0; i < 20_000; i++)
        {
            random.NextBytes(bytes);
            _ = ReceivedMessage.ReadControl(bytes.AsSpan(0, random.Next(bytes.Length + 1)));

            // And again with a length that can be true, so that the rest is reached.
            bytes[0] = (byte)random.Next(16, 80);
            bytes.AsSpan(1, 7).Clear();
            _ = ReceivedMessage.ReadControl(bytes.AsSpan(0, random.Next(bytes.Length + 1)));
            frames += ReceivedMessage.TryReadFrame(bytes.AsSpan(8, random.Next(2) == 0 ? 16 : 72), 0, out CanFrame frame) == ReceivedDefect.None ? 1 : 0;
            Assert.True(frame.Length <= Payload.Capacity);
        }

        Assert.InRange(frames, 1, 19_999);
    }
}
