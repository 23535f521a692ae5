using System.Net;

namespace Diagnostics.Agent.Announcing;

/// <summary>
/// Multicast DNS for one link, for the names of one service and nothing else (RFC 6762): asks whether the names are free, announces them, answers, defends them and
/// takes leave. Pure: messages and time in, messages out. Whoever owns it gives messages of this link only (RFC 6762, 11).
/// </summary>
/// <param name="service">What is announced.</param>
/// <param name="isOfThisBoard">Whether an address is the board's own, on any interface: another name service of the board may announce it as well, and is no rival.</param>
/// <param name="now">On any monotonic line.</param>
/// <param name="random">For the delays that keep devices from speaking all at once.</param>
internal sealed class NameResponder(AnnouncedService service, Func<IPAddress, bool> isOfThisBoard, TimeSpan now, Random random)
{
    /// <summary>RFC 6762, 5.2 and 11.</summary>
    public const int Port = 5353;

    /// <summary>RFC 6762, 8.1: three, 250 ms apart, after a random wait of as much.</summary>
    private const int Probes = 3;
    private static readonly TimeSpan ProbeGap = TimeSpan.FromMilliseconds(250);

    /// <summary>RFC 6762, 8.2: who loses against another prober waits a second.</summary>
    private static readonly TimeSpan AfterLosing = TimeSpan.FromSeconds(1);

    /// <summary>RFC 6762, 8.3: at least two, a second apart.</summary>
    private const int Announcements = 2;
    private static readonly TimeSpan AnnouncementGap = TimeSpan.FromSeconds(1);

    /// <summary>RFC 6762, 6: a record goes to all once a second at most, to defend it against a probe four times.</summary>
    private static readonly TimeSpan SameRecordGap = TimeSpan.FromSeconds(1);

    /// <summary>RFC 6762, 6.7: who asks from another port knows nothing of multicast and shall not remember for long.</summary>
    private const uint LegacyTtl = 10;

    /// <summary>Answers to single askers in a second; more is nobody's need, and none may use us to send to somebody else.</summary>
    private const int UnicastPerSecond = 10;

    /// <summary>Answers that wait at once; more come from nobody who means well, and whoever got none asks again.</summary>
    private const int MostWaiting = 16;

    private readonly List<(TimeSpan Due, DnsRecord[] Answers)> _waiting = [];
    private readonly Dictionary<DnsRecord, TimeSpan> _told = [];
    private TimeSpan _due = now + (ProbeGap * random.NextDouble());
    private int _sent;
    private TimeSpan _unicastSince = now;
    private int _unicasts;

    public NameState State { get; private set; }

    /// <summary>Another name service of this board announces the same name. Then its addresses are not ours to take back, nor can we say what it hasn't.</summary>
    public bool IsShared { get; private set; }

    /// <summary>When <see cref="OnTick"/> is to be called at the latest; null = nothing waits.</summary>
    public TimeSpan? Due
    {
        get
        {
            TimeSpan? own = State == NameState.Probing || (State == NameState.Held && _sent < Announcements) ? _due : null;
            TimeSpan? answers = _waiting.Count > 0 ? _waiting.Min(waiting => waiting.Due) : null;
            return own is null || answers < own ? answers : own;
        }
    }

    public IReadOnlyList<Outgoing> OnTick(TimeSpan now)
    {
        List<Outgoing> outgoing = [];
        if (State == NameState.Probing && now >= _due)
        {
            if (_sent == Probes)
            {
                State = NameState.Held;
                _sent = 0;
            }
            else
            {
                outgoing.Add(new(Probe(), null));
                _sent++;
                _due = now + ProbeGap;
            }
        }

        if (State == NameState.Held && _sent < Announcements && now >= _due)
        {
            outgoing.Add(new(ToAll(service.Records, [], now), null));
            _sent++;
            _due = now + AnnouncementGap;
        }

        DnsRecord[] answers = [.. _waiting.Where(waiting => waiting.Due <= now).SelectMany(waiting => waiting.Answers).Distinct()];
        _waiting.RemoveAll(waiting => waiting.Due <= now);
        if (answers.Length > 0 && State == NameState.Held)
        {
            outgoing.Add(new(ToAll(answers, [.. Following(answers)], now), null));
        }

        return outgoing;
    }

    /// <summary>A message of the link came; what isn't one, and what isn't about our names, is passed over.</summary>
    /// <returns>What goes out at once; the rest waits for <see cref="OnTick"/>.</returns>
    public IReadOnlyList<Outgoing> OnMessage(ReadOnlySpan<byte> bytes, IPEndPoint from, TimeSpan now)
    {
        if (State == NameState.Taken || !DnsMessage.TryRead(bytes, out DnsMessage? message))
        {
            return [];
        }

        if (message.IsResponse)
        {
            // RFC 6762, 6: whatever comes from another port is no answer.
            if (from.Port == Port)
            {
                Compare(message, from.Address, now);
            }

            return [];
        }

        if (State == NameState.Probing)
        {
            Tie(message, from.Address, now);
            return [];
        }

        return Answer(message, from, now);
    }

    /// <summary>The names are given back (RFC 6762, 10.1). Null where they were never ours.</summary>
    public byte[]? Farewell() => State != NameState.Held ? null : new DnsMessage
    {
        IsResponse = true,
        Answers = [.. service.Records.Where(record => !(IsShared && record.Name.Equals(service.Host))).Select(record => record with { TtlSeconds = 0 })],
    }.ToBytes();

    private byte[] Probe() => new DnsMessage
    {
        // RFC 6762, 8.1, would rather have the answers by unicast; but those go to whichever program of the board the kernel chooses, and here only the group is listened to.
        Questions = [new(service.Host, DnsRecord.TypeAny, WantsUnicast: false), new(service.Instance, DnsRecord.TypeAny, WantsUnicast: false)],

        // What is only claimed isn't marked as unique yet (RFC 6762, 10.2: the mark belongs into responses).
        Authorities = [.. service.Records.Where(record => record.IsUnique).Select(record => record with { IsUnique = false })],
    }.ToBytes();

    private byte[] ToAll(IReadOnlyList<DnsRecord> answers, IReadOnlyList<DnsRecord> following, TimeSpan now)
    {
        foreach (DnsRecord record in answers.Concat(following))
        {
            _told[record] = now;
        }

        return new DnsMessage { IsResponse = true, Answers = answers, Additionals = following }.ToBytes();
    }

    private IEnumerable<DnsRecord> Following(IReadOnlyCollection<DnsRecord> answers) => service.Following(answers);

    private IReadOnlyList<Outgoing> Answer(DnsMessage query, IPEndPoint from, TimeSpan now)
    {
        DnsRecord[] answers = [.. query.Questions.SelectMany(To).Distinct().Where(answer => !IsKnown(answer, query))];
        if (answers.Length == 0)
        {
            return [];
        }

        if (from.Port != Port)
        {
            return Alone(new DnsMessage
            {
                Id = query.Id,
                IsResponse = true,
                Questions = [.. query.Questions.Select(question => question with { WantsUnicast = false })],
                Answers = [.. answers.Select(Legacy)],
                Additionals = [.. Following(answers).Select(Legacy)],
            });
        }

        // RFC 6762, 5.4: to the asker alone where everybody heard it lately.
        if (query.Questions.All(question => question.WantsUnicast) && answers.All(answer => _told.TryGetValue(answer, out TimeSpan told) && now - told < TimeSpan.FromSeconds(answer.TtlSeconds / 4.0)))
        {
            return Alone(new DnsMessage { IsResponse = true, Answers = answers, Additionals = [.. Following(answers)] });
        }

        TimeSpan gap = query.Authorities.Count > 0 ? ProbeGap : SameRecordGap;
        answers = [.. answers.Where(answer => !_told.TryGetValue(answer, out TimeSpan told) || now - told >= gap)];
        if (answers.Length > 0 && _waiting.Count < MostWaiting)
        {
            _waiting.Add((now + Delay(query, answers), answers));
        }

        return [];

        static DnsRecord Legacy(DnsRecord record) => record with { IsUnique = false, TtlSeconds = Math.Min(record.TtlSeconds, LegacyTtl) };

        IReadOnlyList<Outgoing> Alone(DnsMessage answer)
        {
            if (now - _unicastSince >= SameRecordGap)
            {
                _unicastSince = now;
                _unicasts = 0;
            }

            return ++_unicasts <= UnicastPerSecond ? [new(answer.ToBytes(), from)] : [];
        }
    }

    /// <summary>RFC 6762, 6: what others may answer as well waits 20 to 120 ms; RFC 6762, 7.2: where more known answers follow, 400 to 500 ms; what is ours alone goes at once.</summary>
    private TimeSpan Delay(DnsMessage query, DnsRecord[] answers) => TimeSpan.FromMilliseconds(
        query.IsTruncated ? 400 + (100 * random.NextDouble()) : answers.Any(answer => !answer.IsUnique) ? 20 + (100 * random.NextDouble()) : 0);

    private IEnumerable<DnsRecord> To(DnsQuestion question)
    {
        DnsRecord[] answers = [.. service.Records.Where(record => record.Answers(question))];
        return answers.Length > 0 || !service.IsOwnName(question.Name) || (IsShared && question.Name.Equals(service.Host))
            ? answers
            : service.Nsecs.Where(nsec => nsec.Name.Equals(question.Name));
    }

    /// <summary>RFC 6762, 7.1: the asker has it, and for more than half of its time still.</summary>
    private static bool IsKnown(DnsRecord answer, DnsMessage query) => query.Answers.Any(known => known.Says(answer) && known.TtlSeconds >= answer.TtlSeconds / 2);

    /// <summary>RFC 6762, 9: a record of our name and type that says something else. A name that is being asked for is the other's then; one that we hold is asked for anew.</summary>
    private void Compare(DnsMessage response, IPAddress from, TimeSpan now)
    {
        foreach (DnsRecord record in response.Answers.Concat(response.Additionals).Where(record => service.IsOwnName(record.Name)))
        {
            bool isAddress = record.Type is DnsRecord.TypeA or DnsRecord.TypeAaaa;
            if (isAddress && (record.Data.Length is 4 or 16) && isOfThisBoard(new(record.Data)))
            {
                IsShared |= record.TtlSeconds > 0;
                continue;
            }

            if (record.TtlSeconds == 0 || isOfThisBoard(from) || !IsOfUniqueType(record) || service.Records.Any(own => own.Says(record)))
            {
                continue;
            }

            if (State == NameState.Probing)
            {
                State = NameState.Taken;
                return;
            }

            Restart(now + (ProbeGap * random.NextDouble()));
            return;
        }
    }

    private bool IsOfUniqueType(DnsRecord record) => record.Name.Equals(service.Host)
        ? record.Type is DnsRecord.TypeA or DnsRecord.TypeAaaa
        : record.Type is DnsRecord.TypeService or DnsRecord.TypeText;

    /// <summary>RFC 6762, 8.2: two ask for one name at once. The lexicographically later records win; whoever loses waits and asks again, and then hears the winner.</summary>
    private void Tie(DnsMessage query, IPAddress from, TimeSpan now)
    {
        if (isOfThisBoard(from))
        {
            return;
        }

        foreach (DnsName name in new[] { service.Host, service.Instance }.Where(name => query.Questions.Any(question => question.Name.Equals(name))))
        {
            DnsRecord[] theirs = Sorted(query.Authorities);
            if (theirs.Length > 0 && Order(theirs, Sorted(service.Records)) > 0)
            {
                Restart(now + AfterLosing);
                return;
            }

            DnsRecord[] Sorted(IEnumerable<DnsRecord> records) =>
                [.. records.Where(record => record.Name.Equals(name)).Order(Comparer<DnsRecord>.Create((a, b) => a.Type != b.Type ? a.Type.CompareTo(b.Type) : a.Data.AsSpan().SequenceCompareTo(b.Data)))];
        }
    }

    /// <summary>RFC 6762, 8.2.1: record by record, and who has more left wins.</summary>
    private static int Order(DnsRecord[] theirs, DnsRecord[] ours)
    {
        for (int index = 0; index < Math.Min(theirs.Length, ours.Length); index++)
        {
            int order = theirs[index].Type != ours[index].Type ? theirs[index].Type.CompareTo(ours[index].Type) : theirs[index].Data.AsSpan().SequenceCompareTo(ours[index].Data);
            if (order != 0)
            {
                return order;
            }
        }

        return theirs.Length.CompareTo(ours.Length);
    }

    private void Restart(TimeSpan due)
    {
        State = NameState.Probing;
        _sent = 0;
        _due = due;
        _waiting.Clear();
    }
}
