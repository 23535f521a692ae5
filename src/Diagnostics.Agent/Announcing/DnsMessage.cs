using System.Buffers.Binary;
using System.Diagnostics.CodeAnalysis;

namespace Diagnostics.Agent.Announcing;

/// <summary>
/// A message of DNS as multicast DNS uses it (RFC 1035, 4.1; RFC 6762, 18):
/// <code>
/// 0  id            2  flags: QR(15) opcode(14–11) AA(10) TC(9) … rcode(3–0)
/// 4  questions     6  answers     8  authorities     10  additionals
/// 12 questions: name, type(2), class(2); records: name, type(2), class(2), ttl(4), length(2), data
/// </code>
/// What is read is bounded by the length of the message, which is at most <see cref="LongestBytes"/>.
/// </summary>
internal sealed record DnsMessage
{
    /// <summary>RFC 6762, 17: with headers of IP and UDP no longer than 9000; more is nobody's answer.</summary>
    public const int LongestBytes = 9000;

    private const int HeaderLength = 12;
    private const int ResponseFlag = 0x8000;
    private const int AuthoritativeFlag = 0x0400;
    private const int TruncatedFlag = 0x0200;
    private const int OpcodeAndRcode = 0x780F;
    private const int ClassInternet = 1;
    private const int ClassAny = 255;

    /// <summary>In questions: an answer by unicast is welcome; in records: unique (RFC 6762, 18.12 and 18.13).</summary>
    private const int TopOfClass = 0x8000;

    /// <summary>Names behind this offset can't be pointed to (RFC 1035, 4.1.4).</summary>
    private const int FarthestPointer = 0x3FFF;

    public ushort Id { get; init; }

    public bool IsResponse { get; init; }

    /// <summary>More known answers follow in another message.</summary>
    public bool IsTruncated { get; init; }

    public IReadOnlyList<DnsQuestion> Questions { get; init; } = [];

    public IReadOnlyList<DnsRecord> Answers { get; init; } = [];

    /// <summary>Of a query: what the asker is about to claim (RFC 6762, 8.2).</summary>
    public IReadOnlyList<DnsRecord> Authorities { get; init; } = [];

    public IReadOnlyList<DnsRecord> Additionals { get; init; } = [];

    /// <summary>Reads one. Records and questions of other classes are passed over.</summary>
    /// <returns>False where it is none, breaks off, or has an opcode or rcode, which are to be ignored (RFC 6762, 18.3 and 18.11).</returns>
    public static bool TryRead(ReadOnlySpan<byte> bytes, [NotNullWhen(true)] out DnsMessage? message)
    {
        message = null;
        if (bytes.Length is < HeaderLength or > LongestBytes || (BinaryPrimitives.ReadUInt16BigEndian(bytes[2..]) & OpcodeAndRcode) != 0)
        {
            return false;
        }

        int flags = BinaryPrimitives.ReadUInt16BigEndian(bytes[2..]);
        int at = HeaderLength;
        if (!TryReadQuestions(bytes, ref at, BinaryPrimitives.ReadUInt16BigEndian(bytes[4..]), out List<DnsQuestion> questions)
            || !TryReadRecords(bytes, ref at, BinaryPrimitives.ReadUInt16BigEndian(bytes[6..]), out List<DnsRecord> answers)
            || !TryReadRecords(bytes, ref at, BinaryPrimitives.ReadUInt16BigEndian(bytes[8..]), out List<DnsRecord> authorities)
            || !TryReadRecords(bytes, ref at, BinaryPrimitives.ReadUInt16BigEndian(bytes[10..]), out List<DnsRecord> additionals))
        {
            return false;
        }

        message = new()
        {
            Id = BinaryPrimitives.ReadUInt16BigEndian(bytes),
            IsResponse = (flags & ResponseFlag) != 0,
            IsTruncated = (flags & TruncatedFlag) != 0,
            Questions = questions,
            Answers = answers,
            Authorities = authorities,
            Additionals = additionals,
        };
        return true;
    }

    /// <summary>Names of owners are compressed, those in data are not: a reader must take both.</summary>
    public byte[] ToBytes()
    {
        List<byte> bytes = [];
        Dictionary<DnsName, int> places = [];
        Number(bytes, Id);
        Number(bytes, IsResponse ? ResponseFlag | AuthoritativeFlag : 0);
        Number(bytes, Questions.Count);
        Number(bytes, Answers.Count);
        Number(bytes, Authorities.Count);
        Number(bytes, Additionals.Count);
        foreach (DnsQuestion question in Questions)
        {
            Name(bytes, places, question.Name);
            Number(bytes, question.Type);
            Number(bytes, ClassInternet | (question.WantsUnicast ? TopOfClass : 0));
        }

        foreach (DnsRecord record in Answers.Concat(Authorities).Concat(Additionals))
        {
            Name(bytes, places, record.Name);
            Number(bytes, record.Type);
            Number(bytes, ClassInternet | (record.IsUnique ? TopOfClass : 0));
            Number(bytes, (int)(record.TtlSeconds >> 16));
            Number(bytes, (int)(record.TtlSeconds & 0xFFFF));
            Number(bytes, record.Data.Length);
            bytes.AddRange(record.Data);
        }

        return [.. bytes];
    }

    private static bool TryReadQuestions(ReadOnlySpan<byte> bytes, ref int at, int count, out List<DnsQuestion> questions)
    {
        questions = [];
        for (; count > 0; count--)
        {
            if (!DnsName.TryRead(bytes, ref at, out DnsName? name) || at + 4 > bytes.Length)
            {
                return false;
            }

            int type = BinaryPrimitives.ReadUInt16BigEndian(bytes[at..]);
            int kind = BinaryPrimitives.ReadUInt16BigEndian(bytes[(at + 2)..]);
            at += 4;
            if ((kind & ~TopOfClass) is ClassInternet or ClassAny)
            {
                questions.Add(new(name, type, (kind & TopOfClass) != 0));
            }
        }

        return true;
    }

    private static bool TryReadRecords(ReadOnlySpan<byte> bytes, ref int at, int count, out List<DnsRecord> records)
    {
        records = [];
        for (; count > 0; count--)
        {
            if (!DnsName.TryRead(bytes, ref at, out DnsName? name) || at + 10 > bytes.Length)
            {
                return false;
            }

            int type = BinaryPrimitives.ReadUInt16BigEndian(bytes[at..]);
            int kind = BinaryPrimitives.ReadUInt16BigEndian(bytes[(at + 2)..]);
            uint ttl = BinaryPrimitives.ReadUInt32BigEndian(bytes[(at + 4)..]);
            int end = at + 10 + BinaryPrimitives.ReadUInt16BigEndian(bytes[(at + 8)..]);
            if (end > bytes.Length || !TryReadData(bytes, at + 10, end, type, out byte[]? data))
            {
                return false;
            }

            at = end;
            if ((kind & ~TopOfClass) == ClassInternet)
            {
                records.Add(new(name, type, (kind & TopOfClass) != 0, ttl, data));
            }
        }

        return true;
    }

    /// <summary>Names in the data of these types may be compressed (RFC 6762, 18.14); they are compared as they are meant.</summary>
    private static bool TryReadData(ReadOnlySpan<byte> bytes, int at, int end, int type, [NotNullWhen(true)] out byte[]? data)
    {
        data = null;
        if (type is not (DnsRecord.TypePointer or DnsRecord.TypeService))
        {
            data = bytes[at..end].ToArray();
            return true;
        }

        int head = type == DnsRecord.TypeService ? 6 : 0;
        int name = at + head;
        if (name > end || !DnsName.TryRead(bytes[..end], ref name, out DnsName? target) || name != end)
        {
            return false;
        }

        data = [.. bytes.Slice(at, head), .. target.Wire];
        return true;
    }

    private static void Number(List<byte> bytes, int value)
    {
        bytes.Add((byte)(value >> 8));
        bytes.Add((byte)value);
    }

    private static void Name(List<byte> bytes, Dictionary<DnsName, int> places, DnsName name)
    {
        for (DnsName rest = name; !rest.IsRoot; rest = rest.Parent())
        {
            if (places.TryGetValue(rest, out int place))
            {
                Number(bytes, 0xC000 | place);
                return;
            }

            if (bytes.Count <= FarthestPointer)
            {
                places[rest] = bytes.Count;
            }

            bytes.AddRange(rest.Wire[..(rest.Wire[0] + 1)]);
        }

        bytes.Add(0);
    }
}
