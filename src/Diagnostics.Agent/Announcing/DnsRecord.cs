using System.Buffers.Binary;
using System.Net;
using System.Net.Sockets;

namespace Diagnostics.Agent.Announcing;

/// <summary>One resource record of class IN (RFC 1035, 3.2.1).</summary>
/// <param name="Name">Whose.</param>
/// <param name="Type">One of the constants here, or any other.</param>
/// <param name="IsUnique">Nobody else has records of this name and type: the top bit of the class says so, and whoever hears it forgets older ones (RFC 6762, 10.2).</param>
/// <param name="TtlSeconds">For how long it may be remembered; 0 = no longer (RFC 6762, 10.1).</param>
/// <param name="Data">Names in it uncompressed.</param>
internal sealed record DnsRecord(DnsName Name, int Type, bool IsUnique, uint TtlSeconds, byte[] Data)
{
    /// <summary>RFC 1035, 3.2.2, RFC 3596 (AAAA), RFC 2782 (SRV), RFC 4034 (NSEC).</summary>
    public const int TypeA = 1;
    public const int TypePointer = 12;
    public const int TypeText = 16;
    public const int TypeAaaa = 28;
    public const int TypeService = 33;
    public const int TypeNsec = 47;
    public const int TypeAny = 255;

    /// <summary>RFC 6762, 10: two minutes for what names a host, 75 minutes for all else.</summary>
    public const uint HostTtl = 120;
    public const uint OtherTtl = 4500;

    public static DnsRecord Address(DnsName host, IPAddress address) =>
        new(host, address.AddressFamily == AddressFamily.InterNetwork ? TypeA : TypeAaaa, IsUnique: true, HostTtl, address.GetAddressBytes());

    public static DnsRecord Pointer(DnsName name, DnsName target) => new(name, TypePointer, IsUnique: false, OtherTtl, target.Wire.ToArray());

    /// <summary>Priority and weight 0: there is one place only (RFC 6763, 5).</summary>
    public static DnsRecord Service(DnsName instance, int port, DnsName host)
    {
        byte[] data = new byte[6 + host.Wire.Length];
        BinaryPrimitives.WriteUInt16BigEndian(data.AsSpan(4), (ushort)port);
        host.Wire.CopyTo(data.AsSpan(6));
        return new(instance, TypeService, IsUnique: true, HostTtl, data);
    }

    /// <param name="instance">Whose.</param>
    /// <param name="entry">key=value, at most 255 bytes of ASCII (RFC 6763, 6.1).</param>
    public static DnsRecord Text(DnsName instance, string entry) =>
        new(instance, TypeText, IsUnique: true, OtherTtl, [(byte)entry.Length, .. System.Text.Encoding.ASCII.GetBytes(entry)]);

    /// <summary>Says of which types there are records, and so that there are no others, in the restricted form of RFC 6762, 6.1.</summary>
    /// <param name="name">Whose.</param>
    /// <param name="types">Below 256.</param>
    public static DnsRecord Nsec(DnsName name, IEnumerable<int> types)
    {
        byte[] bitmap = new byte[32];
        int length = 0;
        foreach (int type in types)
        {
            // Network order: the highest bit of the first byte is type 0 (RFC 4034, 4.1.2).
            bitmap[type / 8] |= (byte)(0x80 >> (type % 8));
            length = Math.Max(length, (type / 8) + 1);
        }

        return new(name, TypeNsec, IsUnique: true, HostTtl, [.. name.Wire, 0, (byte)length, .. bitmap.AsSpan(0, length)]);
    }

    /// <summary>The same thing, whatever its time and its mark.</summary>
    public bool Says(DnsRecord other) => Type == other.Type && Name.Equals(other.Name) && Data.AsSpan().SequenceEqual(other.Data);

    public bool Answers(DnsQuestion question) => (question.Type == TypeAny || question.Type == Type) && Name.Equals(question.Name);
}
