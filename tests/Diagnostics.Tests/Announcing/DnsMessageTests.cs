using System.Net;
using System.Text;
using Diagnostics.Agent.Announcing;

namespace Diagnostics.Tests.Announcing;

public sealed class DnsMessageTests
{
    /// <summary>The worked example of RFC 1035, 4.1.4: F.ISI.ARPA at 20, FOO.F.ISI.ARPA at 40 by a pointer to 20, ARPA at 64 by a pointer to 26, the root at 92.</summary>
    [Fact]
    public void NamesAreReadAsInTheExampleOfTheStandard()
    {
        byte[] message = new byte[93];
        Encoding.ASCII.GetBytes("\u0001F\u0003ISI\u0004ARPA\0").CopyTo(message, 20);
        Encoding.ASCII.GetBytes("\u0003FOO").CopyTo(message, 40);
        (message[44], message[45], message[64], message[65]) = (0xC0, 20, 0xC0, 26);
        (int At, int Behind, string[] Labels)[] expected = [(20, 32, ["F", "ISI", "ARPA"]), (40, 46, ["FOO", "F", "ISI", "ARPA"]), (64, 66, ["ARPA"]), (92, 93, [])];
        foreach ((int at, int behind, string[] labels) in expected)
        {
            int place = at;
            Assert.True(DnsName.TryRead(message, ref place, out DnsName? name));
            Assert.Equal(DnsName.Of(labels), name);
            Assert.Equal(behind, place);
        }
    }

    /// <summary>RFC 6762, 16: names are compared as DNS always does, ASCII letters in either case.</summary>
    [Fact]
    public void NamesKnowNoCase()
    {
        Assert.Equal(DnsName.Of("Plant-Room", "LOCAL"), DnsName.Of("plant-room", "local"));
        Assert.Equal(DnsName.Of("Plant-Room", "LOCAL").GetHashCode(), DnsName.Of("plant-room", "local").GetHashCode());
        Assert.NotEqual(DnsName.Of("plant", "room", "local"), DnsName.Of("plant-room", "local"));
    }

    public static TheoryData<string> Rubbish() =>
    [
        "C000",             // a pointer to itself
        "0141C000",         // a label and back to it
        "C002C000",         // two that point at each other
        "4041",             // a kind of label that was withdrawn (RFC 6891, 5)
        "80",               // one that was never given out
        "0541",             // ends within a label
        "0141",             // ends without its zero
        "C0",               // ends within a pointer
        "",
    ];

    [Theory]
    [MemberData(nameof(Rubbish))]
    public void ALoopOrABrokenNameIsNoName(string hex)
    {
        int at = 0;
        Assert.False(DnsName.TryRead(Convert.FromHexString(hex), ref at, out _));
    }

    /// <summary>RFC 1035, 2.3.4: 255 bytes with lengths and the closing zero.</summary>
    [Fact]
    public void ANameThatIsLongerThanAnyIsNone()
    {
        byte[] label = [63, .. new byte[63]];
        int at = 0;
        Assert.True(DnsName.TryRead([.. label, .. label, .. label, 61, .. new byte[61], 0], ref at, out _));
        at = 0;
        Assert.False(DnsName.TryRead([.. label, .. label, .. label, 62, .. new byte[62], 0], ref at, out _));
    }

    /// <summary>Laid out by hand from RFC 1035, 4.1, and RFC 6762, 18: a query for plant-room.local, type A, class IN, unicast answer welcome.</summary>
    [Fact]
    public void AQuestionIsReadAndWrittenByteByByte()
    {
        byte[] bytes = Convert.FromHexString("0000" + "0000" + "0001" + "0000" + "0000" + "0000" + "0A706C616E742D726F6F6D" + "056C6F63616C" + "00" + "0001" + "8001");
        Assert.True(DnsMessage.TryRead(bytes, out DnsMessage? message));
        Assert.False(message.IsResponse);
        Assert.Equal(new DnsQuestion(DnsName.Of("plant-room", "local"), DnsRecord.TypeA, WantsUnicast: true), Assert.Single(message.Questions));
        Assert.Equal(bytes, message.ToBytes());
    }

    /// <summary>
    /// Laid out by hand: response and authoritative (RFC 6762, 18.2 and 18.4: 0x8400), the address with the cache-flush bit (10.2: class 0x8001), 120 s (10); the
    /// service (RFC 2782: priority, weight, port 8480 = 0x2120, target), whose owner's ".local" points to the first name's (offset 12 + 11 = 0x17).
    /// </summary>
    [Fact]
    public void AnAnswerIsWrittenByteByByte()
    {
        DnsName host = DnsName.Of("plant-room", "local");
        byte[] bytes = new DnsMessage
        {
            IsResponse = true,
            Answers = [DnsRecord.Address(host, IPAddress.Parse("192.0.2.7")), DnsRecord.Service(DnsName.Of("plant-room", "_http", "_tcp", "local"), 8480, host)],
        }.ToBytes();
        Assert.Equal(
            "0000" + "8400" + "0000" + "0002" + "0000" + "0000"
            + "0A706C616E742D726F6F6D" + "056C6F63616C" + "00" + "0001" + "8001" + "00000078" + "0004" + "C0000207"
            + "0A706C616E742D726F6F6D" + "055F68747470" + "045F746370" + "C017" + "0021" + "8001" + "00000078" + "0018" + "0000" + "0000" + "2120" + "0A706C616E742D726F6F6D" + "056C6F63616C" + "00",
            Convert.ToHexString(bytes));
        Assert.True(DnsMessage.TryRead(bytes, out DnsMessage? read));
        Assert.Equal(bytes, read.ToBytes());
    }

    /// <summary>RFC 4034, 4.1.2: types 1 and 28 in window 0 are 0x40 in the first byte and 0x08 in the fourth; RFC 6762, 6.1: the name itself stands as the next one.</summary>
    [Fact]
    public void WhatThereIsNotIsSaidByABitmap()
    {
        DnsRecord nsec = DnsRecord.Nsec(DnsName.Of("a", "local"), [DnsRecord.TypeA, DnsRecord.TypeAaaa]);
        Assert.Equal("0161056C6F63616C00" + "0004" + "40000008", Convert.ToHexString(nsec.Data));
    }

    /// <summary>RFC 6762, 18.3 and 18.11: with another opcode or any rcode it is to be ignored.</summary>
    [Theory]
    [InlineData(2, 0x28)]
    [InlineData(3, 0x03)]
    public void AnotherOpcodeOrAnRcodeIsIgnored(int place, byte value)
    {
        byte[] bytes = new DnsMessage { Questions = [new(DnsName.Of("a", "local"), DnsRecord.TypeAny, false)] }.ToBytes();
        Assert.True(DnsMessage.TryRead(bytes, out _));
        bytes[place] = value;
        Assert.False(DnsMessage.TryRead(bytes, out _));
    }

    [Fact]
    public void EveryMessageThatBreaksOffIsNone()
    {
        DnsName host = DnsName.Of("plant-room", "local");
        byte[] bytes = new DnsMessage { IsResponse = true, Questions = [new(host, 1, false)], Answers = [DnsRecord.Service(host, 80, host)], Additionals = [DnsRecord.Text(host, "path=/")] }.ToBytes();
        for (int length = 0; length < bytes.Length; length++)
        {
            Assert.False(DnsMessage.TryRead(bytes.AsSpan(0, length), out _));
        }
    }

    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    [InlineData(3)]
    public void NoRubbishThrowsAndWhatIsReadIsWrittenAndReadTheSame(int seed)
    {
        Random random = new(seed);
        byte[] sample = [.. new NameResponderTests.Bench().Announcement()];
        int understood = 0;
        for (int round = 0; round < 20_000; round++)
        {
            byte[] bytes = [.. sample];
            for (int change = random.Next(1, 12); change > 0; change--)
            {
                // Pointers and small counts are what a reader stumbles over.
                bytes[random.Next(bytes.Length)] = random.Next(3) switch { 0 => (byte)random.Next(256), 1 => 0xC0, _ => (byte)random.Next(40) };
            }

            if (DnsMessage.TryRead(bytes.AsSpan(0, random.Next(bytes.Length + 1)), out DnsMessage? message))
            {
                understood++;
                Assert.True(DnsMessage.TryRead(message.ToBytes(), out DnsMessage? again) || message.ToBytes().Length > DnsMessage.LongestBytes);
                Assert.True(again is null || again.ToBytes().AsSpan().SequenceEqual(message.ToBytes()));
            }
        }

        Assert.True(understood > 0);
    }
}
