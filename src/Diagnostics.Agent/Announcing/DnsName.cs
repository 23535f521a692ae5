using System.Diagnostics.CodeAnalysis;
using System.Text;

namespace Diagnostics.Agent.Announcing;

/// <summary>A domain name as it goes over the wire (RFC 1035, 3.1): labels, each behind its length, and a closing zero. ASCII letters are equal in either case (RFC 6762, 16).</summary>
internal sealed class DnsName : IEquatable<DnsName>
{
    /// <summary>RFC 1035, 2.3.4; the closing zero counts.</summary>
    public const int LongestWire = 255;

    /// <summary>RFC 1035, 2.3.4.</summary>
    public const int LongestLabel = 63;

    /// <summary>The two highest bits of a length: 11 = a pointer, 00 = a label, others were never given out (RFC 1035, 4.1.4).</summary>
    private const int PointerBits = 0xC0;

    private readonly byte[] _wire;

    private DnsName(byte[] wire) => _wire = wire;

    public ReadOnlySpan<byte> Wire => _wire;

    /// <summary>Labels from the host's to the outermost one, each at most 63 bytes of UTF-8.</summary>
    public static DnsName Of(params ReadOnlySpan<string> labels)
    {
        List<byte> wire = [];
        foreach (string label in labels)
        {
            byte[] bytes = Encoding.UTF8.GetBytes(label);
            ArgumentOutOfRangeException.ThrowIfGreaterThan(bytes.Length, LongestLabel, nameof(labels));
            wire.Add((byte)bytes.Length);
            wire.AddRange(bytes);
        }

        wire.Add(0);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(wire.Count, LongestWire, nameof(labels));
        return new([.. wire]);
    }

    /// <summary>Reads one, following pointers. A pointer must lead to before the labels that it stands behind, so that no loop is possible.</summary>
    /// <param name="message">The whole message.</param>
    /// <param name="at">Where the name begins; afterwards, what follows it.</param>
    /// <param name="name">What it says.</param>
    public static bool TryRead(ReadOnlySpan<byte> message, ref int at, [NotNullWhen(true)] out DnsName? name)
    {
        name = null;
        Span<byte> wire = stackalloc byte[LongestWire];
        int written = 0;
        int place = at;
        int begin = at;
        int behind = -1;
        while (place < message.Length)
        {
            int length = message[place];
            if ((length & PointerBits) == PointerBits)
            {
                if (place + 1 >= message.Length)
                {
                    return false;
                }

                int target = ((length & ~PointerBits) << 8) | message[place + 1];
                if (target >= begin)
                {
                    return false;
                }

                behind = behind < 0 ? place + 2 : behind;
                begin = place = target;
                continue;
            }

            if ((length & PointerBits) != 0 || place + length >= message.Length || written + length + 1 > LongestWire)
            {
                return false;
            }

            message.Slice(place, length + 1).CopyTo(wire[written..]);
            written += length + 1;
            place += length + 1;
            if (length == 0)
            {
                at = behind < 0 ? place : behind;
                name = new(wire[..written].ToArray());
                return true;
            }
        }

        return false;
    }

    /// <summary>Without its first label.</summary>
    public DnsName Parent() => new(_wire[(_wire[0] + 1)..]);

    public bool IsRoot => _wire.Length == 1;

    public bool Equals(DnsName? other) => other is not null && Ascii.EqualsIgnoreCase(_wire, other._wire);

    public override bool Equals(object? obj) => Equals(obj as DnsName);

    public override int GetHashCode()
    {
        HashCode code = default;
        foreach (byte part in _wire)
        {
            code.Add(part is >= (byte)'A' and <= (byte)'Z' ? part | 0x20 : part);
        }

        return code.ToHashCode();
    }
}
