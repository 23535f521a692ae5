using System.Net;
using Diagnostics.Agent.Announcing;

namespace Diagnostics.Tests.Announcing;

/// <summary>The rules of RFC 6762, each with its section.</summary>
public sealed class NameResponderTests
{
    private static readonly DnsName Host = DnsName.Of("plant-room", "local");
    private static readonly DnsName Instance = DnsName.Of("plant-room", "_http", "_tcp", "local");
    private static readonly DnsName Type = DnsName.Of("_http", "_tcp", "local");

    /// <summary>RFC 6762, 8.1: three probes 250 ms apart, after a wait of at most as much; type any; what is claimed stands in the authorities.</summary>
    [Fact]
    public void ThreeProbesThenTwoAnnouncements()
    {
        Bench bench = new();
        List<(TimeSpan At, DnsMessage Message)> sent = bench.Run(TimeSpan.FromSeconds(5));
        Assert.Equal(5, sent.Count);
        Assert.InRange(sent[0].At, TimeSpan.Zero, TimeSpan.FromMilliseconds(250));
        for (int probe = 0; probe < 3; probe++)
        {
            DnsMessage message = sent[probe].Message;
            Assert.False(message.IsResponse);
            Assert.All(message.Questions, question => Assert.True(question is { Type: DnsRecord.TypeAny, WantsUnicast: false }));
            Assert.Equal([Host, Instance], message.Questions.Select(question => question.Name));
            Assert.Equal([1, 33, 16], message.Authorities.Select(record => record.Type));
            Assert.All(message.Authorities, record => Assert.False(record.IsUnique));
        }

        Assert.Equal([250, 250, 250], sent.Zip(sent.Skip(1), (a, b) => (int)Math.Round((b.At - a.At).TotalMilliseconds / 10) * 10).Take(3));

        // 8.3: two responses, a second apart; 10.2: what is unique says so, what is shared doesn't.
        Assert.Equal(1, Math.Round((sent[4].At - sent[3].At).TotalSeconds, 1));
        Assert.All(sent.Skip(3), announced => Assert.True(announced.Message.IsResponse));
        Assert.Equal([(1, true, 120u), (33, true, 120u), (16, true, 4500u), (12, false, 4500u), (12, false, 4500u)], sent[3].Message.Answers.Select(record => (record.Type, record.IsUnique, record.TtlSeconds)));
        Assert.Equal(NameState.Held, bench.Responder.State);
        Assert.Null(bench.Responder.Due);
    }

    /// <summary>RFC 6762, 8.1: who hears an answer for a name while probing takes another.</summary>
    [Fact]
    public void ANameThatSomebodyAnswersForIsTaken()
    {
        Bench bench = new();
        bench.Run(TimeSpan.FromMilliseconds(300));
        bench.Hear(Answer(DnsRecord.Address(Host, IPAddress.Parse("192.0.2.99"))));
        Assert.Equal(NameState.Taken, bench.Responder.State);
        Assert.Empty(bench.Run(TimeSpan.FromSeconds(5)));
        Assert.Null(bench.Responder.Farewell());
    }

    /// <summary>RFC 6762, 8.1 and 6: whoever holds a name answers who asks for it at once, and to all where that is asked for, though it was said a second ago.</summary>
    [Fact]
    public void ANameIsDefendedAtOnce()
    {
        Bench first = new("192.0.2.50");
        first.Run(TimeSpan.FromSeconds(2.2));
        Bench second = new("192.0.2.99");
        DnsMessage probe = second.Run(TimeSpan.FromMilliseconds(260))[0].Message;
        first.Hear(probe);
        DnsMessage defence = Assert.Single(first.Run(TimeSpan.FromMilliseconds(2))).Message;
        second.Hear(defence, "192.0.2.20");
        Assert.Equal(NameState.Taken, second.Responder.State);
    }

    /// <summary>RFC 6762, 9: the same data is no conflict; another name service of this board may say the same, or another address of the board.</summary>
    [Theory]
    [InlineData("192.0.2.7")]
    [InlineData("198.51.100.7")]
    [InlineData("2001:db8::7")]
    public void WhatThisBoardItselfSaysIsNoConflict(string address)
    {
        Bench bench = new();
        bench.Run(TimeSpan.FromMilliseconds(300));
        bench.Hear(Answer(DnsRecord.Address(Host, IPAddress.Parse(address))), "192.0.2.7");
        bench.Run(TimeSpan.FromSeconds(5));
        Assert.Equal(NameState.Held, bench.Responder.State);
        Assert.True(bench.Responder.IsShared);

        // The other service's address isn't ours to take back, nor do we say that there is no other type.
        Assert.True(DnsMessage.TryRead(bench.Responder.Farewell(), out DnsMessage? farewell));
        Assert.DoesNotContain(farewell.Answers, record => record.Name.Equals(Host));
        Assert.Empty(bench.Ask(new DnsQuestion(Host, DnsRecord.TypeAaaa, false)));
    }

    /// <summary>RFC 6762, 9: a name that is held is asked for anew; 8.1: and given up where the other defends it.</summary>
    [Fact]
    public void AConflictAfterwardsIsAskedAboutAndThenGivenWayTo()
    {
        Bench bench = Bench.Held();
        bench.Hear(Answer(DnsRecord.Address(Host, IPAddress.Parse("192.0.2.99"))));
        Assert.Equal(NameState.Probing, bench.Responder.State);
        Assert.False(bench.Run(TimeSpan.FromMilliseconds(300))[0].Message.IsResponse);
        bench.Hear(Answer(DnsRecord.Address(Host, IPAddress.Parse("192.0.2.99"))));
        Assert.Equal(NameState.Taken, bench.Responder.State);
    }

    /// <summary>RFC 6762, 8.2: the example is 169.254.99.200 against 169.254.200.50; the second is later, because 99 is less than 200, and so it wins.</summary>
    [Theory]
    [InlineData("169.254.99.200", "169.254.200.50", false)]
    [InlineData("169.254.200.50", "169.254.99.200", true)]
    [InlineData("169.254.99.200", "169.254.99.200", true)]
    public void OfTwoWhoProbeAtOnceTheLaterWins(string ours, string theirs, bool isOurs)
    {
        Bench bench = new(ours);
        bench.Run(TimeSpan.FromMilliseconds(300));
        bench.Hear(new DnsMessage { Questions = [new(Host, DnsRecord.TypeAny, true)], Authorities = [DnsRecord.Address(Host, IPAddress.Parse(theirs))] });
        List<(TimeSpan At, DnsMessage Message)> sent = bench.Run(TimeSpan.FromSeconds(0.9));
        Assert.Equal(isOurs, sent.Count > 0);
        bench.Run(TimeSpan.FromSeconds(3));

        // The winner would have answered by now; where nobody did, it was no device but an echo.
        Assert.Equal(NameState.Held, bench.Responder.State);
    }

    /// <summary>RFC 6762, 6 and RFC 6763, 12: whoever asks for the services gets name, port and addresses along; shared answers wait 20 to 120 ms.</summary>
    [Fact]
    public void AServiceIsAnsweredWithAllThatIsNeededNext()
    {
        Bench bench = Bench.Held();
        TimeSpan asked = bench.Now;
        bench.Hear(new DnsMessage { Questions = [new(Type, DnsRecord.TypePointer, false)] });
        (TimeSpan at, DnsMessage answer) = Assert.Single(bench.Run(TimeSpan.FromSeconds(1)));
        Assert.InRange((at - asked).TotalMilliseconds, 20, 130);
        Assert.Equal(Instance.Wire.ToArray(), Assert.Single(answer.Answers).Data);
        Assert.Equal([1, 33, 16], answer.Additionals.Select(record => record.Type));
    }

    /// <summary>RFC 6763, 9: which types of service there are.</summary>
    [Fact]
    public void TheTypeOfServiceIsListed() =>
        Assert.Equal(Type.Wire.ToArray(), Assert.Single(Assert.Single(Bench.Held().Ask(new DnsQuestion(DnsName.Of("_services", "_dns-sd", "_udp", "local"), DnsRecord.TypePointer, false))).Answers).Data);

    /// <summary>RFC 6762, 7.1: with at least half of its time left a known answer isn't given again.</summary>
    [Theory]
    [InlineData(2250u, 0)]
    [InlineData(2249u, 1)]
    public void WhatTheAskerKnowsIsNotSaidAgain(uint left, int answers)
    {
        Bench bench = Bench.Held();
        bench.Hear(new DnsMessage { Questions = [new(Type, DnsRecord.TypePointer, false)], Answers = [DnsRecord.Pointer(Type, Instance) with { TtlSeconds = left }] });
        Assert.Equal(answers, bench.Run(TimeSpan.FromSeconds(1)).Count);
    }

    /// <summary>RFC 6762, 6: one and the same record goes to all at most once a second.</summary>
    [Fact]
    public void WhoAsksOftenIsAnsweredOnceASecond()
    {
        Bench bench = Bench.Held();
        int answers = 0;
        for (int times = 0; times < 100; times++)
        {
            bench.Hear(new DnsMessage { Questions = [new(Host, DnsRecord.TypeA, false)] });
            answers += bench.Run(TimeSpan.FromMilliseconds(30)).Count;
        }

        Assert.InRange(answers, 2, 3);
    }

    /// <summary>RFC 6762, 6.7: from another port comes an asker who knows nothing of multicast: to him alone, with his number and question, for ten seconds, nothing marked as unique.</summary>
    [Fact]
    public void AnOrdinaryAskerIsAnsweredAlone()
    {
        Bench bench = Bench.Held();
        IPEndPoint from = new(IPAddress.Parse("192.0.2.20"), 40_000);
        Outgoing outgoing = Assert.Single(bench.Responder.OnMessage(Query(Host, DnsRecord.TypeA, 0x1234), from, bench.Now));
        Assert.Equal(from, outgoing.To);
        Assert.True(DnsMessage.TryRead(outgoing.Message, out DnsMessage? answer));
        Assert.Equal((0x1234, true, 1), (answer.Id, answer.IsResponse, answer.Questions.Count));
        Assert.All(answer.Answers, record => Assert.True(record is { IsUnique: false, TtlSeconds: 10 }));

        // Nobody can have us send much to somebody else.
        Assert.InRange(Enumerable.Range(0, 1000).Sum(_ => bench.Responder.OnMessage(Query(Host, DnsRecord.TypeA, 1), from, bench.Now).Count), 1, 10);
    }

    /// <summary>RFC 6762, 6.1: that there is no such record is said, so that nobody waits.</summary>
    [Fact]
    public void ATypeThatThereIsNotIsDenied()
    {
        DnsRecord nsec = Assert.Single(Assert.Single(Bench.Held().Ask(new DnsQuestion(Host, DnsRecord.TypeAaaa, false))).Answers);
        Assert.Equal((DnsRecord.TypeNsec, "40"), (nsec.Type, Convert.ToHexString(nsec.Data)[^2..]));
    }

    /// <summary>RFC 6762, 10.1: everything with a time of 0.</summary>
    [Fact]
    public void AtTheEndEverythingIsTakenBack()
    {
        Assert.True(DnsMessage.TryRead(Bench.Held().Responder.Farewell(), out DnsMessage? farewell));
        Assert.Equal(5, farewell.Answers.Count);
        Assert.All(farewell.Answers, record => Assert.Equal(0u, record.TtlSeconds));
    }

    /// <summary>RFC 6762, 6: a response from another port is none, so it can't take a name away.</summary>
    [Fact]
    public void AnAnswerFromAnotherPortIsIgnored()
    {
        Bench bench = new();
        bench.Responder.OnMessage(Answer(DnsRecord.Address(Host, IPAddress.Parse("192.0.2.99"))).ToBytes(), new(IPAddress.Parse("192.0.2.99"), 40_000), bench.Now);
        Assert.Equal(NameState.Probing, bench.Responder.State);
    }

    /// <summary>Whatever is asked, it speaks of its own names only, and rubbish has no answer.</summary>
    [Theory]
    [InlineData(11)]
    [InlineData(12)]
    public void ItNeverSpeaksOfAnythingElse(int seed)
    {
        Random random = new(seed);
        Bench bench = Bench.Held();
        DnsName[] names = [Host, Instance, Type, DnsName.Of("local"), DnsName.Of("printer", "local"), DnsName.Of("plant-room", "example"), DnsName.Of()];
        for (int round = 0; round < 20_000; round++)
        {
            DnsMessage query = new() { Questions = [.. Enumerable.Range(0, random.Next(4)).Select(_ => new DnsQuestion(names[random.Next(names.Length)], random.Next(4) == 0 ? 255 : random.Next(50), random.Next(2) == 0))] };
            byte[] bytes = query.ToBytes();
            if (random.Next(2) == 0)
            {
                bytes[random.Next(bytes.Length)] ^= (byte)(1 << random.Next(8));
            }

            IPEndPoint from = new(IPAddress.Parse("192.0.2.99"), random.Next(2) == 0 ? NameResponder.Port : 40_000);
            foreach (Outgoing outgoing in bench.Responder.OnMessage(bytes, from, bench.Now).Concat(bench.Tick(TimeSpan.FromMilliseconds(random.Next(200)))))
            {
                Assert.True(DnsMessage.TryRead(outgoing.Message, out DnsMessage? message));
                Assert.InRange(outgoing.Message.Length, 12, 1000);
                Assert.All(message.Answers.Concat(message.Additionals), record => Assert.Contains(record.Name, (DnsName[])[Host, Instance, Type, DnsName.Of("_services", "_dns-sd", "_udp", "local")]));
            }
        }
    }

    private static DnsMessage Answer(params DnsRecord[] answers) => new() { IsResponse = true, Answers = answers };

    private static byte[] Query(DnsName name, int type, ushort id) => new DnsMessage { Id = id, Questions = [new(name, type, false)] }.ToBytes();

    /// <summary>A responder with a clock that is moved by hand.</summary>
    internal sealed class Bench
    {
        private static readonly TimeSpan Step = TimeSpan.FromMilliseconds(1);

        public Bench(string address = "192.0.2.7") => Responder = new(
            new("plant-room", 8480, isEncrypted: false, [IPAddress.Parse(address)]),
            known => known.ToString() is "192.0.2.7" or "198.51.100.7" or "2001:db8::7",
            TimeSpan.Zero,
            new(5));

        public NameResponder Responder { get; }

        public TimeSpan Now { get; private set; }

        /// <summary>So long after its announcements that all may be said again.</summary>
        public static Bench Held()
        {
            Bench bench = new();
            bench.Run(TimeSpan.FromSeconds(10));
            return bench;
        }

        public byte[] Announcement() => Run(TimeSpan.FromSeconds(2)).First(sent => sent.Message.IsResponse).Message.ToBytes();

        public IReadOnlyList<Outgoing> Tick(TimeSpan later)
        {
            Now += later;
            return Responder.OnTick(Now);
        }

        public List<(TimeSpan At, DnsMessage Message)> Run(TimeSpan length)
        {
            List<(TimeSpan, DnsMessage)> sent = [];
            for (TimeSpan end = Now + length; Now < end;)
            {
                foreach (Outgoing outgoing in Tick(Step))
                {
                    Assert.Null(outgoing.To);
                    Assert.True(DnsMessage.TryRead(outgoing.Message, out DnsMessage? message));
                    sent.Add((Now, message));
                }
            }

            return sent;
        }

        public void Hear(DnsMessage message, string from = "192.0.2.99") => Assert.Empty(Responder.OnMessage(message.ToBytes(), new(IPAddress.Parse(from), NameResponder.Port), Now));

        public IReadOnlyList<DnsMessage> Ask(DnsQuestion question)
        {
            Hear(new DnsMessage { Questions = [question] });
            return [.. Run(TimeSpan.FromSeconds(1)).Select(sent => sent.Message)];
        }
    }
}
