using Diagnostics.Can;
using Diagnostics.Core.Protocols.CanOpen;

namespace Diagnostics.Tests.Protocols.CanOpen;

/// <summary>
/// Expected values: CiA 301's predefined connection set, NMT and error control as listed in an open protocol stack's headers
/// (CANopenNode 301/CO_driver.h, CO_NMT_Heartbeat.h, CO_Emergency.h); vectors computed from these rules unless another source is named.
/// </summary>
public class CanOpenDecoderTests
{
    private readonly WrittenEvents _events = new();

    [Theory]
    [InlineData("185#00", "pdo T1 5")]
    [InlineData("281#00", "pdo T2 1")]
    [InlineData("3FF#00", "pdo T3 127")]
    [InlineData("481#00", "pdo T4 1")]
    [InlineData("205#00", "pdo R1 5")]
    [InlineData("301#00", "pdo R2 1")]
    [InlineData("401#00", "pdo R3 1")]
    [InlineData("57F#00", "pdo R4 127")]
    [InlineData("5FF#4300100091010F00", "sdo answer 127")]
    [InlineData("601#4000100000000000", "sdo request 1")]
    [InlineData("77F#05", "heartbeat 127 Operational")]
    [InlineData("77F#04", "heartbeat 127 Stopped")]
    [InlineData("77F#7F", "heartbeat 127 PreOperational")]
    [InlineData("701#00", "boot 1")]
    [InlineData("080#", "sync")]
    [InlineData("080#01", "sync")]
    [InlineData("100#000000000000", "time")]
    [InlineData("081#1082000402000000", "emergency 1 8210 00 0402000000")]
    [InlineData("085#3081110000000000", "emergency 5 8130 11 0000000000")]
    [InlineData("000#0105", "command Start 5")]
    [InlineData("000#0200", "command Stop 0")]
    [InlineData("000#8005", "command EnterPreOperational 5")]
    [InlineData("000#8105", "command ResetNode 5")]
    [InlineData("000#8205", "command ResetCommunication 5")]
    [InlineData("7E5#0401000000000000", "lss request 0401000000000000")]
    [InlineData("7E4#4F00000000000000", "lss answer 4F00000000000000")]
    public void FrameBecomesTheEventOfItsIdentifier(string frame, string expected)
    {
        DecodeOutcome outcome = _events.Feed(frame);

        Assert.Equal(expected, _events.Lines[0]);
        Assert.True(outcome == DecodeOutcome.Understood || frame.StartsWith("5FF", StringComparison.Ordinal), outcome.ToString());
    }

    [Theory]
    [InlineData("00000185#05")]
    [InlineData("001#00")]
    [InlineData("07F#00")]
    [InlineData("101#00")]
    [InlineData("180#00")]
    [InlineData("200#00")]
    [InlineData("580#00")]
    [InlineData("600#00")]
    [InlineData("680#00")]
    [InlineData("6FF#00")]
    [InlineData("700#05")]
    [InlineData("780#00")]
    [InlineData("7E3#00")]
    [InlineData("7FF#00")]
    [InlineData("000#R")]
    [InlineData("080#R")]
    [InlineData("085#R")]
    [InlineData("205#R")]
    [InlineData("605#R")]
    [InlineData("700#R")]
    public void ReservedIdentifiersAndIdleRemoteFramesAreNotCanOpen(string frame)
    {
        Assert.Equal(DecodeOutcome.NotCanOpen, _events.Feed(frame));
        Assert.Empty(_events.Lines);
    }

    [Fact]
    public void FlexibleFramesAndErrorMessagesAreNotCanOpen()
    {
        CanFrame flexible = CanFrame.Classic(default, CanId.Base(0x705), [5]);
        flexible.Flags = FrameFlags.Flexible;
        CanFrame remoteError = CanFrame.RemoteRequest(default, CanId.Base(0x705), 0);
        remoteError.Flags |= FrameFlags.Error;

        Assert.Equal(DecodeOutcome.NotCanOpen, _events.Feed(flexible));
        Assert.Equal(DecodeOutcome.NotCanOpen, _events.Feed(CanFrame.ErrorReport(default, 4, [0, 1, 0, 0, 0, 0, 0, 0])));
        Assert.Equal(DecodeOutcome.NotCanOpen, _events.Feed(remoteError));
        Assert.Empty(_events.Lines);
    }

    [Theory]
    [InlineData("000#", "NmtWrongLength")]
    [InlineData("000#01", "NmtWrongLength")]
    [InlineData("000#010500", "NmtWrongLength")]
    [InlineData("000#0305", "UnknownNmtCommand")]
    [InlineData("000#0005", "UnknownNmtCommand")]
    [InlineData("000#0180", "NmtAddressOutOfRange")]
    [InlineData("080#0102", "SyncWrongLength")]
    [InlineData("100#0000000000", "TimeTooShort")]
    [InlineData("085#", "EmergencyTooShort")]
    [InlineData("085#3081", "EmergencyTooShort")]
    [InlineData("705#", "ErrorControlEmpty")]
    [InlineData("705#01", "UnknownState")]
    [InlineData("705#80", "UnknownState")]
    [InlineData("705#FF01", "Understood")]
    [InlineData("705#0000", "UnknownState")]
    [InlineData("7E4#", "LssEmpty")]
    [InlineData("185#", "PdoTooShort")]
    [InlineData("605#", "SdoTooShort")]
    [InlineData("585#", "SdoTooShort")]
    public void BadFrameHasAReason(string frame, string reason) => Assert.Equal(reason, _events.Feed(frame).ToString());

    [Fact]
    public void EveryTruncatedLengthOfEveryMessageIsJudgedWithoutAnEvent()
    {
        string[] whole = ["000#0105", "100#000000000000", "085#3081110000000000", "705#05"];
        int[] needed = [2, 6, 3, 1];
        for (int i = 0; i < whole.Length; i++)
        {
            for (int length = 0; length < needed[i]; length++)
            {
                Assert.NotEqual(DecodeOutcome.Understood, _events.Feed(whole[i][..(4 + (2 * length))]));
            }
        }

        Assert.Empty(_events.Lines);
    }

    [Fact]
    public void StateAfterAGuardRequestIsItsAnswer()
    {
        _events.Feed("705#R", 0);
        _events.Feed("705#05", 100);
        _events.Feed("705#05", 101);
        _events.Feed("705#R", 200);
        _events.Feed("705#05", 301);
        _events.Feed("706#7F", 302);

        Assert.Equal(
            ["guarding 5", "guard 5 Operational", "heartbeat 5 Operational", "guarding 5", "heartbeat 5 Operational", "heartbeat 6 PreOperational"],
            _events.Lines);
    }

    [Fact]
    public void ToggleBitMeansGuardAnswerEvenWhenTheRequestWasNotHeard()
    {
        // Bit 7 toggles in guarding answers: CiA 301, from memory.
        _events.FeedAll("705#85", "705#FF");

        Assert.Equal(["guard 5 Operational", "guard 5 PreOperational"], _events.Lines);
    }

    [Fact]
    public void RequestForATpdoIsUnderstoodAndSaysNothing()
    {
        _events.FeedAll("185#R");

        Assert.Empty(_events.Lines);
    }

    [Fact]
    public void MillionRandomFramesNeitherThrowNorAllocate()
    {
        Silent silent = new();
        CanOpenDecoder decoder = new(silent);
        for (uint node = 1; node <= 127; node++)
        {
            decoder.Decode(CanFrame.Classic(default, CanId.Base(0x600 + node), [0]));
        }

        // Warm-up, so that the compiler's own allocations are over; xorshift with a fixed seed.
        ulong random = 88172645463325252;
        Run(decoder, ref random, 20_000);
        long before = GC.GetAllocatedBytesForCurrentThread();
        int understood = Run(decoder, ref random, 1_000_000);
        long allocated = GC.GetAllocatedBytesForCurrentThread() - before;

        // A hundredth of a byte a frame: what the run time may allocate once on this thread, and far below the smallest object a frame.
        Assert.InRange(allocated, 0, 10_000);
        Assert.InRange(understood, 100_000, 900_000);
        Assert.True(silent.Values > 1000, "Random traffic should finish some transfers.");
    }

    private static int Run(CanOpenDecoder decoder, ref ulong random, int count)
    {
        int understood = 0;
        long time = 0;
        for (int i = 0; i < count; i++)
        {
            ulong id = Next(ref random);
            ulong data = Next(ref random);
            CanFrame frame = default;
            time += (long)(id >> 40);
            frame.Time = new(time);

            // Half of the frames are SDO of few nodes and few objects, so that conversations and mappings come about.
            uint value = (uint)id & 0x7FF;
            if ((id & 0x1000) != 0)
            {
                value = 0x580 + ((uint)id & 0x80) + 1 + ((uint)(id >> 16) & 3);
                data = (data & ~0xFFFF_FF00UL) | ((0x1400UL + ((id >> 20) & 0x601)) << 8) | (((id >> 36) & 3) << 24);
                if ((id & 0x2000) != 0)
                {
                    data = (data & ~0xFFUL) | (((uint)id & 0x80) != 0 ? 0x2FUL : 0x60UL);
                }
            }

            frame.Id = (id & 0x1F_0000_0000) == 0 ? CanId.Extended((uint)data & CanId.MaxExtended) : CanId.Base(value);
            frame.Flags = (id & 0x3E0_0000_0000) == 0 ? (FrameFlags)(byte)(data >> 3) : FrameFlags.None;
            frame.Length = (id & 0xC00_0000_0000) == 0 ? (byte)(data & 63) : (byte)8;
            System.Runtime.InteropServices.MemoryMarshal.Write(frame.Data, data);
            understood += decoder.Decode(frame) == DecodeOutcome.Understood ? 1 : 0;
        }

        return understood;
    }

    private static ulong Next(ref ulong random)
    {
        random ^= random << 13;
        random ^= random >> 7;
        return random ^= random << 17;
    }

    private sealed class Silent : ICanOpenEvents
    {
        public int Values { get; private set; }

        public void OnNetworkCommand(Instant time, NmtCommand command, byte node)
        {
        }

        public void OnBootUp(Instant time, byte node)
        {
        }

        public void OnErrorControl(Instant time, byte node, NodeState state, bool isGuardAnswer)
        {
        }

        public void OnGuardRequest(Instant time, byte node)
        {
        }

        public void OnSync(Instant time)
        {
        }

        public void OnTime(Instant time)
        {
        }

        public void OnEmergency(Instant time, byte node, ushort errorCode, byte errorRegister, ReadOnlySpan<byte> manufacturer)
        {
        }

        public void OnSdoRequest(Instant time, byte node, ReadOnlySpan<byte> data)
        {
        }

        public void OnSdoAnswer(Instant time, byte node, ReadOnlySpan<byte> data)
        {
        }

        public void OnObjectValue(Instant time, byte node, ushort index, byte subIndex, ReadOnlySpan<byte> value, bool isWrite) => Values++;

        public void OnSdoAbort(Instant time, byte node, ushort index, byte subIndex, uint abortCode, bool byServer)
        {
        }

        public void OnPdo(Instant time, byte node, int number, bool isTransmit)
        {
        }

        public void OnInput(Instant time, byte node, int input, bool active, bool isFirst)
        {
        }

        public void OnOutputCommand(Instant time, byte node, int output, bool active, bool isFirst)
        {
        }

        public void OnOutputReport(Instant time, byte node, int output, bool active, bool isFirst)
        {
        }

        public void OnLss(Instant time, bool isRequest, ReadOnlySpan<byte> data)
        {
        }
    }
}
