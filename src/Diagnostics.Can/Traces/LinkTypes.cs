using System.Buffers.Binary;

namespace Diagnostics.Can.Traces;

/// <summary>
/// The link types that carry CAN, by the tcpdump registry, and the headers of Linux cooked captures before the CAN record.
/// </summary>
/// <remarks>
/// <code>
/// cooked, version 1 (113), 16 bytes: packet type 2 | ARPHRD 2 | address length 2 | address 8 | protocol 2
/// cooked, version 2 (276), 20 bytes: protocol 2 | reserved 2 | interface index 4 | ARPHRD 2 | packet type 1 | address length 1 | address 8
/// </code>
/// All big-endian. Packet type 4 = sent by this host. Protocols 0x000C and 0x000D: ETH_P_CAN and ETH_P_CANFD of linux/if_ether.h.
/// </remarks>
internal static class LinkTypes
{
    public const int SocketCan = 227;
    public const int Cooked = 113;
    public const int CookedVersion2 = 276;
    private const int CookedHeaderBytes = 16;
    private const int CookedVersion2HeaderBytes = 20;
    private const int ProtocolCan = 0x000C;
    private const int ProtocolFlexible = 0x000D;
    private const int SentByThisHost = 4;

    public static bool CarriesCan(int linkType) => linkType is SocketCan or Cooked or CookedVersion2;

    /// <summary>
    /// Takes the header off. <paramref name="isCan"/> false = a packet of another protocol, no damage. <paramref name="kernelIndex"/> is 0 where the header has none.
    /// </summary>
    public static TraceDamage Unwrap(int linkType, ReadOnlySpan<byte> packet, out ReadOnlySpan<byte> record, out RecordKind kind, out FrameFlags extra, out uint kernelIndex, out bool isCan)
    {
        record = packet;
        kind = RecordKind.Open;
        extra = FrameFlags.None;
        kernelIndex = 0;
        isCan = true;
        if (linkType == SocketCan)
        {
            return TraceDamage.None;
        }

        int headerBytes = linkType == Cooked ? CookedHeaderBytes : CookedVersion2HeaderBytes;
        if (packet.Length < headerBytes)
        {
            return TraceDamage.RecordTooShort;
        }

        int protocol;
        int packetType;
        if (linkType == Cooked)
        {
            packetType = BinaryPrimitives.ReadUInt16BigEndian(packet);
            protocol = BinaryPrimitives.ReadUInt16BigEndian(packet[14..]);
        }
        else
        {
            protocol = BinaryPrimitives.ReadUInt16BigEndian(packet);
            kernelIndex = BinaryPrimitives.ReadUInt32BigEndian(packet[4..]);
            packetType = packet[10];
        }

        record = packet[headerBytes..];
        extra = packetType == SentByThisHost ? FrameFlags.OwnHost : FrameFlags.None;
        isCan = protocol is ProtocolCan or ProtocolFlexible;
        kind = protocol == ProtocolFlexible ? RecordKind.Flexible : RecordKind.Classic;
        return TraceDamage.None;
    }
}
