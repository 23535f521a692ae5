using Diagnostics.Core.Protocols.CanOpen;

namespace Diagnostics.Tests.Protocols.CanOpen;

/// <summary>
/// Commands: an open protocol stack's CO_SDOserver.h, which excerpts CiA 301 V4.2 (expedited, segmented, abort). Block transfer: bits from memory,
/// the conversations as one public test report of a device records them (CANopenNode/CANopenDemo).
/// </summary>
public class SdoConversationTests
{
    private readonly WrittenEvents _events = new();

    [Fact]
    public void ExpeditedReadIsTheObjectsValue()
    {
        _events.FeedAll("605#4018100100000000", "585#4318100178563412");

        Assert.Equal(["read 5 1018:01 78563412"], _events.Meanings);
    }

    [Theory]
    [InlineData("43", "11223344")]
    [InlineData("47", "112233")]
    [InlineData("4B", "1122")]
    [InlineData("4F", "11")]
    [InlineData("42", "11223344")]
    public void ExpeditedAnswerCarriesTheBytesItSays(string command, string value)
    {
        _events.FeedAll("605#40001000", $"585#{command}00100011223344");

        Assert.Equal([$"read 5 1000:00 {value}"], _events.Meanings);
    }

    [Theory]
    [InlineData("23", "11223344")]
    [InlineData("27", "112233")]
    [InlineData("2B", "1122")]
    [InlineData("2F", "11")]
    public void WriteCountsOnlyOnceConfirmed(string command, string value)
    {
        _events.FeedAll($"605#{command}17100011223344");
        Assert.Empty(_events.Meanings);

        _events.FeedAll("585#6017100000000000");
        Assert.Equal([$"write 5 1017:00 {value}"], _events.Meanings);
    }

    [Fact]
    public void RequestsShorterThanEightBytesAreReadAsFarAsTheyGo()
    {
        // As a recorded I/O slave is asked (MinMengbin/CANBUS_J1939_CANopen).
        _events.FeedAll("60A#2F001802FE", "58A#6000180200000000", "60A#2B0018030100", "58A#6000180300000000", "60A#40001400", "58A#4F00140002000000");

        Assert.Equal(["write 10 1800:02 FE", "write 10 1800:03 0100", "read 10 1400:00 02"], _events.Meanings);
    }

    [Fact]
    public void AbortTellsItsSideObjectAndCode()
    {
        _events.FeedAll("605#4018100500000000", "585#8018100511000906", "605#8018100500000405");

        Assert.Equal(["abort 5 1018:05 06090011 by server", "abort 5 1018:05 05040000 by client"], _events.Meanings);
    }

    [Fact]
    public void AbortedWriteIsNoValue()
    {
        _events.FeedAll("605#2B171000E8030000", "585#8017100002000106");

        Assert.Equal(DecodeOutcome.SdoUnexpectedAnswer, _events.Feed("585#6017100000000000"));
        Assert.Equal(["abort 5 1017:00 06010002 by server"], _events.Meanings);
    }

    [Fact]
    public void SegmentedReadIsPutTogether()
    {
        _events.FeedAll(
            "604#4008100000000000",
            "584#4108100010000000",
            "604#6000000000000000",
            "584#0043414E6F70656E",
            "604#7000000000000000",
            "584#1044656D6F504943",
            "604#6000000000000000",
            "584#0B33320000000000");

        Assert.Equal(["read 4 1008:00 43414E6F70656E44656D6F5049433332"], _events.Meanings);
    }

    [Fact]
    public void SegmentedWriteIsPutTogetherWhenTheLastSegmentIsConfirmed()
    {
        _events.FeedAll(
            "605#2108100009000000", "585#6008100000000000", "605#0041424344454647", "585#2000000000000000", "605#1B48490000000000");
        Assert.Empty(_events.Meanings);

        _events.FeedAll("585#3000000000000000");
        Assert.Equal(["write 5 1008:00 414243444546474849"], _events.Meanings);
    }

    [Fact]
    public void RepeatedToggleEndsTheTransfer()
    {
        _events.FeedAll("604#4008100000000000", "584#4108100010000000", "604#6000000000000000", "584#0043414E6F70656E");

        Assert.Equal(DecodeOutcome.SdoToggleWrong, _events.Feed("604#6000000000000000"));
        Assert.Equal(DecodeOutcome.SdoUnexpectedAnswer, _events.Feed("584#1044656D6F504943"));
        Assert.Empty(_events.Meanings);
    }

    [Fact]
    public void BlockReadIsFollowedToItsEnd()
    {
        _events.FeedAll(
            "604#A008100014000000",
            "584#C608100010000000",
            "604#A300000000000000",
            "584#0143414E6F70656E",
            "584#0244656D6F504943",
            "584#8333320000000000",
            "604#A203140000000000",
            "584#D500000000000000",
            "604#A100000000000000");

        Assert.Equal(["read 4 1008:00 43414E6F70656E44656D6F5049433332"], _events.Meanings);
    }

    [Fact]
    public void BlockReadTakesARepeatedSegmentOnce()
    {
        _events.FeedAll("604#A008100014000000", "584#C60810000E000000", "604#A300000000000000", "584#0141414141414141", "584#8242424242424242", "604#A201140000000000");
        _events.FeedAll("584#8142424242424242", "604#A201140000000000", "584#C100000000000000", "604#A100000000000000");

        Assert.Equal(["read 4 1008:00 4141414141414142424242424242"], _events.Meanings);
    }

    [Fact]
    public void BlockWithASegmentThatWasNotHeardGivesNoValue()
    {
        _events.FeedAll("604#A008100014000000", "584#C60810000E000000", "604#A300000000000000", "584#0141414141414141");

        Assert.Equal(DecodeOutcome.SdoSequenceWrong, _events.Feed("604#A202140000000000"));
        Assert.Empty(_events.Meanings);
    }

    [Fact]
    public void BlockWriteIsFollowedToItsEnd()
    {
        _events.FeedAll(
            "604#C217100002000000",
            "584#A41710007F000000",
            "604#81E8030000000000",
            "584#A2017F0000000000",
            "604#D500000000000000",
            "584#A100000000000000");

        Assert.Equal(["write 4 1017:00 E803"], _events.Meanings);
    }

    [Fact]
    public void NewRequestIsReadAgainAfterABlockFellSilent()
    {
        _events.FeedAll("604#C217100002000000", "584#A41710007F000000");
        Assert.Equal(DecodeOutcome.SdoSequenceWrong, _events.Feed("604#4018100100000000", 500));

        _events.Feed("604#4018100100000000", 1501);
        _events.Feed("584#4318100178563412", 1502);

        Assert.Equal(["read 4 1018:01 78563412"], _events.Meanings);
    }

    [Fact]
    public void LongValueIsKeptToItsLimit()
    {
        _events.FeedAll("605#4008100000000000", "585#4108100000000000");
        for (int i = 0; i < 100; i++)
        {
            string toggle = (i & 1) == 0 ? "0" : "1";
            _events.FeedAll($"605#{(i & 1) switch { 0 => "60", _ => "70" }}00000000000000", $"585#{toggle}{(i == 99 ? "1" : "0")}41414141414141");
        }

        string read = Assert.Single(_events.Meanings);
        Assert.Equal("read 5 1008:00 " + string.Concat(Enumerable.Repeat("41", CanOpenLimits.SdoValueBytes)), read);
    }

    [Fact]
    public void LongValueIsCountedBeyondItsLimit()
    {
        SdoConversation sdo = new();
        sdo.Request(default, [0xA0, 0x08, 0x10, 0, 127, 0, 0, 0], out _);
        sdo.Answer(default, [0xC6, 0x08, 0x10, 0, 0, 0, 0, 0], out _);
        sdo.Request(default, [0xA3, 0, 0, 0, 0, 0, 0, 0], out _);
        for (int block = 0; block < 10; block++)
        {
            for (int sequence = 1; sequence <= 127; sequence++)
            {
                byte last = block == 9 && sequence == 127 ? (byte)0x80 : (byte)0;
                Assert.Equal(DecodeOutcome.Understood, sdo.Answer(default, [(byte)(last | sequence), 1, 2, 3, 4, 5, 6, 7], out _));
            }

            Assert.Equal(DecodeOutcome.Understood, sdo.Request(default, [0xA2, 127, 127, 0, 0, 0, 0, 0], out _));
        }

        // Three bytes of the last segment are unused.
        sdo.Answer(default, [0xCD, 0, 0, 0, 0, 0, 0, 0], out _);
        sdo.Request(default, [0xA1, 0, 0, 0, 0, 0, 0, 0], out SdoEnd end);

        Assert.Equal(SdoEnd.Value, end);
        Assert.Equal((10 * 127 * 7) - 3, sdo.TotalBytes);
        Assert.Equal(CanOpenLimits.SdoValueBytes, sdo.Value.Length);
        Assert.Equal([1, 2, 3, 4, 5, 6, 7, 1], sdo.Value[..8].ToArray());
    }

    [Fact]
    public void SecondAnswerToOneRequestIsUnexpectedAndStillTold()
    {
        _events.FeedAll("605#4018100400000000", "585#4318100411111111");

        Assert.Equal(DecodeOutcome.SdoUnexpectedAnswer, _events.Feed("585#4318100422222222"));
        Assert.Equal(["read 5 1018:04 11111111", "read 5 1018:04 22222222"], _events.Meanings);
    }

    [Fact]
    public void AnswerForAnotherObjectIsUnexpectedAndTheRequestStaysOpen()
    {
        _events.FeedAll("605#4018100400000000");

        Assert.Equal(DecodeOutcome.SdoUnexpectedAnswer, _events.Feed("585#4318100111111111"));
        _events.FeedAll("585#4318100422222222");
        Assert.Equal(["read 5 1018:04 22222222"], _events.Meanings);
    }

    [Theory]
    [InlineData("605#00", "SdoUnexpectedRequest")]
    [InlineData("605#60", "SdoUnexpectedRequest")]
    [InlineData("605#A3", "SdoUnexpectedRequest")]
    [InlineData("605#A2", "SdoUnexpectedRequest")]
    [InlineData("605#A1", "SdoUnexpectedRequest")]
    [InlineData("605#C1", "SdoUnexpectedRequest")]
    [InlineData("605#E0", "SdoUnknownCommand")]
    [InlineData("605#81", "SdoUnknownCommand")]
    [InlineData("605#400010", "SdoTooShort")]
    [InlineData("605#23001000112233", "SdoTooShort")]
    [InlineData("605#80001000000002", "SdoTooShort")]
    [InlineData("585#00", "SdoUnexpectedAnswer")]
    [InlineData("585#20", "SdoUnexpectedAnswer")]
    [InlineData("585#60171000", "SdoUnexpectedAnswer")]
    [InlineData("585#601710", "SdoTooShort")]
    [InlineData("585#41171000", "SdoUnexpectedAnswer")]
    [InlineData("585#43171000112233", "SdoTooShort")]
    [InlineData("585#A0171000", "SdoUnexpectedAnswer")]
    [InlineData("585#A1", "SdoUnexpectedAnswer")]
    [InlineData("585#A2", "SdoUnexpectedAnswer")]
    [InlineData("585#A3", "SdoUnknownCommand")]
    [InlineData("585#C0171000", "SdoUnexpectedAnswer")]
    [InlineData("585#C1", "SdoUnexpectedAnswer")]
    [InlineData("585#E0", "SdoUnknownCommand")]
    public void FrameOutOfPlaceHasAReason(string frame, string reason) => Assert.Equal(reason, _events.Feed(frame).ToString());

    [Theory]
    [InlineData("604#4008100000000000 584#4108100010000000 604#6000000000000000 584#0043414E6F70656E")]
    [InlineData("604#2B171000E8030000 584#6017100000000000")]
    [InlineData("604#A008100014000000 584#C608100010000000 604#A300000000000000 584#0143414E6F70656E 604#A201140000000000")]
    [InlineData("604#C217100002000000 584#A41710007F000000 604#81E8030000000000 584#A2017F0000000000 604#D500000000000000 584#A100000000000000")]
    public void EveryTruncatedLengthOfEveryStepIsJudgedWithoutAnException(string conversation)
    {
        string[] frames = conversation.Split(' ');
        for (int cut = 0; cut < frames.Length; cut++)
        {
            for (int length = 0; length < 8; length++)
            {
                WrittenEvents events = new();
                for (int i = 0; i < cut; i++)
                {
                    Assert.Equal(DecodeOutcome.Understood, events.Feed(frames[i]));
                }

                DecodeOutcome outcome = events.Feed(frames[cut][..(4 + (2 * length))]);
                Assert.True(outcome == DecodeOutcome.Understood ? length > 0 : outcome == DecodeOutcome.SdoTooShort, $"{frames[cut]} cut to {length}: {outcome}");
            }
        }
    }
}
