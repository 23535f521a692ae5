using System.Runtime.InteropServices;
using System.Text;
using Diagnostics.Can;

namespace Diagnostics.Agent.Buses;

/// <summary>What a datagram of the kernel's route family held.</summary>
internal readonly record struct LinkAnswer(bool IsDone, int ErrorNumber, int Damaged);

/// <summary>
/// Writes requests to, and reads messages from, the kernel about its network interfaces. Pure.
/// <code>
/// nlmsghdr   16 bytes: length 0 (u32, header included), type 4 (u16), flags 6 (u16), sequence 8 (u32), port 12 (u32); next message at a multiple of 4
/// ifinfomsg  16 bytes: family 0, hardware type 2 (u16), index 4 (int), flags 8 (u32), change 12 (u32)
/// rtattr      4 bytes: length 0 (u16, header included), type 2 (u16); next attribute at a multiple of 4
/// RTM_NEWLINK > IFLA_LINKINFO 18 > { IFLA_INFO_KIND 1, IFLA_INFO_DATA 2 > IFLA_CAN_*, IFLA_INFO_XSTATS 3 = can_device_stats }
/// </code>
/// All numbers in the host's order. Sources: linux/netlink.h, linux/rtnetlink.h, linux/if_link.h, linux/can/netlink.h (6.1).
/// </summary>
internal static class LinkMessage
{
    internal const int RequestCapacity = 64;

    private const int HeaderSize = 16;
    private const int InterfaceSize = 16;
    private const int AttributeSize = 4;
    private const int NameCapacity = 16;

    private const ushort TypeError = 2;
    private const ushort TypeDone = 3;
    private const ushort TypeNewLink = 16;
    private const ushort TypeDeleteLink = 17;
    private const ushort TypeGetLink = 18;

    private const ushort FlagRequest = 0x001;
    private const ushort FlagDump = 0x300;

    private const uint InterfaceUp = 0x01;
    private const uint InterfaceRunning = 0x40;

    private const int AttributeName = 3;
    private const int AttributeLinkInfo = 18;
    private const int AttributeStatistics64 = 23;

    private const int InfoKind = 1;
    private const int InfoData = 2;
    private const int InfoStatistics = 3;

    private const int CanBitTiming = 1;
    private const int CanState = 4;
    private const int CanControlMode = 5;
    private const int CanRestartMilliseconds = 6;
    private const int CanErrorCounters = 8;
    private const int CanDataBitTiming = 9;
    private const int CanTermination = 11;

    /// <summary>A request for one interface by its name, or for all of them (null). The number of bytes written.</summary>
    internal static int WriteRequest(Span<byte> buffer, uint sequence, string? name)
    {
        buffer = buffer[..RequestCapacity];
        buffer.Clear();
        int length = HeaderSize + InterfaceSize;
        if (name is not null)
        {
            int size = Encoding.ASCII.GetBytes(name, buffer.Slice(length + AttributeSize, NameCapacity - 1)) + 1;
            Write(buffer[length..], (ushort)(AttributeSize + size));
            Write(buffer[(length + 2)..], (ushort)AttributeName);
            length += Aligned(AttributeSize + size);
        }

        Write(buffer, (uint)length);
        Write(buffer[4..], TypeGetLink);
        Write(buffer[6..], (ushort)(FlagRequest | (name is null ? FlagDump : 0)));
        Write(buffer[8..], sequence);
        return length;
    }

    /// <summary>Adds what the datagram says of interfaces. Messages of other types are passed over, damaged ones counted.</summary>
    internal static LinkAnswer Read(ReadOnlySpan<byte> datagram, ICollection<LinkFacts> links)
    {
        bool done = false;
        int error = 0;
        int damaged = 0;
        while (datagram.Length >= HeaderSize)
        {
            uint stated = MemoryMarshal.Read<uint>(datagram);
            if (stated < HeaderSize || stated > datagram.Length)
            {
                return new(done, error, damaged + 1);
            }

            ushort type = MemoryMarshal.Read<ushort>(datagram[4..]);
            ReadOnlySpan<byte> body = datagram[HeaderSize..(int)stated];
            switch (type)
            {
                case TypeDone:
                    done = true;
                    break;
                case TypeError when body.Length >= 4:
                    error = -MemoryMarshal.Read<int>(body);
                    done = true;
                    break;
                case TypeNewLink or TypeDeleteLink when TryReadLink(body, type == TypeDeleteLink, out LinkFacts? link):
                    links.Add(link!);
                    break;
                case TypeError or TypeNewLink or TypeDeleteLink:
                    damaged++;
                    break;
            }

            datagram = datagram[Math.Min(datagram.Length, Aligned((int)stated))..];
        }

        return new(done, error, datagram.IsEmpty ? damaged : damaged + 1);
    }

    private static bool TryReadLink(ReadOnlySpan<byte> body, bool removed, out LinkFacts? link)
    {
        link = null;
        if (body.Length < InterfaceSize)
        {
            return false;
        }

        ushort hardware = MemoryMarshal.Read<ushort>(body[2..]);
        uint flags = MemoryMarshal.Read<uint>(body[8..]);
        string? name = null;
        ReadOnlySpan<byte> linkInfo = default;
        ReadOnlySpan<byte> statistics = default;
        ReadOnlySpan<byte> rest = body[InterfaceSize..];
        while (TryTake(ref rest, out int type, out ReadOnlySpan<byte> value))
        {
            switch (type)
            {
                case AttributeName:
                    name = TextOf(value);
                    break;
                case AttributeLinkInfo:
                    linkInfo = value;
                    break;
                case AttributeStatistics64:
                    statistics = value;
                    break;
            }
        }

        if (!rest.IsEmpty || string.IsNullOrEmpty(name))
        {
            return false;
        }

        LinkFacts facts = new(MemoryMarshal.Read<int>(body[4..]), name)
        {
            IsCan = hardware == LinkFacts.CanHardware,
            IsUp = (flags & InterfaceUp) != 0,
            IsRunning = (flags & InterfaceRunning) != 0,
            IsRemoved = removed,
        };
        if (statistics.Length >= 16)
        {
            // struct rtnl_link_stats64 begins with the packets received and the packets transmitted.
            facts = facts with { FramesReceived = MemoryMarshal.Read<long>(statistics), FramesTransmitted = MemoryMarshal.Read<long>(statistics[8..]) };
        }

        link = ReadLinkInfo(linkInfo, facts);
        return true;
    }

    private static LinkFacts ReadLinkInfo(ReadOnlySpan<byte> linkInfo, LinkFacts facts)
    {
        ReadOnlySpan<byte> data = default;
        while (TryTake(ref linkInfo, out int type, out ReadOnlySpan<byte> value))
        {
            switch (type)
            {
                case InfoKind:
                    facts = facts with { Kind = TextOf(value) };
                    break;
                case InfoData:
                    data = value;
                    break;
                case InfoStatistics when facts.IsCan && value.Length >= 24:
                    ReadOnlySpan<uint> counts = MemoryMarshal.Cast<byte, uint>(value[..24]);
                    facts = facts with { Counts = new(counts[0], counts[1], counts[2], counts[3], counts[4], counts[5]) };
                    break;
            }
        }

        // Other kinds of link number their own attributes the same way, with other meanings.
        return facts.IsCan && facts.Kind == "can" ? ReadCan(data, facts) : facts;
    }

    private static LinkFacts ReadCan(ReadOnlySpan<byte> data, LinkFacts facts)
    {
        while (TryTake(ref data, out int type, out ReadOnlySpan<byte> value))
        {
            facts = type switch
            {
                CanBitTiming when value.Length >= 8 => facts with
                {
                    BitRate = Positive(MemoryMarshal.Read<int>(value)),
                    SamplePointRatio = Positive(MemoryMarshal.Read<int>(value[4..])) is { } tenths ? tenths / 1000.0 : null,
                },
                CanDataBitTiming when value.Length >= 4 => facts with { DataBitRate = Positive(MemoryMarshal.Read<int>(value)) },
                CanState when value.Length >= 4 && MemoryMarshal.Read<uint>(value) <= (uint)ControllerState.Sleeping =>
                    facts with { State = (ControllerState)MemoryMarshal.Read<uint>(value) },
                CanControlMode when value.Length >= 8 => facts with { Modes = (ControlModes)MemoryMarshal.Read<uint>(value[4..]) },
                CanRestartMilliseconds when value.Length >= 4 => facts with { RestartMilliseconds = MemoryMarshal.Read<int>(value) },
                CanErrorCounters when value.Length >= 4 => facts with
                {
                    TransmitErrorCounter = MemoryMarshal.Read<ushort>(value),
                    ReceiveErrorCounter = MemoryMarshal.Read<ushort>(value[2..]),
                },
                CanTermination when value.Length >= 2 => facts with { TerminationOhms = MemoryMarshal.Read<ushort>(value) },
                _ => facts,
            };
        }

        return facts;
    }

    /// <summary>False at the end and where an attribute is damaged; then <paramref name="rest"/> is not empty.</summary>
    private static bool TryTake(scoped ref ReadOnlySpan<byte> rest, out int type, out ReadOnlySpan<byte> value)
    {
        type = 0;
        value = default;
        if (rest.Length < AttributeSize)
        {
            return false;
        }

        ushort stated = MemoryMarshal.Read<ushort>(rest);
        if (stated < AttributeSize || stated > rest.Length)
        {
            return false;
        }

        // The two upper bits say "nested" and "network order".
        type = MemoryMarshal.Read<ushort>(rest[2..]) & 0x3FFF;
        value = rest[AttributeSize..stated];
        rest = rest[Math.Min(rest.Length, Aligned(stated))..];
        return true;
    }

    private static string TextOf(ReadOnlySpan<byte> value)
    {
        int end = value.IndexOf((byte)0);
        return Encoding.ASCII.GetString(end < 0 ? value : value[..end]);
    }

    private static int? Positive(int value) => value > 0 ? value : null;

    private static int Aligned(int length) => (length + 3) & ~3;

    private static void Write(Span<byte> target, ushort value) => MemoryMarshal.Write(target, in value);

    private static void Write(Span<byte> target, uint value) => MemoryMarshal.Write(target, in value);
}
