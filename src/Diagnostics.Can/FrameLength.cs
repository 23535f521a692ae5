using System.Runtime.CompilerServices;

namespace Diagnostics.Can;

/// <summary>
/// The exact length of a frame on the wire, counted from its own bits.
/// </summary>
/// <remarks>
/// <code>
/// classic, base      SOF 1 | identifier 11 | RTR 1 | IDE 1 | r0 1 | DLC 4                                     = 19
/// classic, extended  SOF 1 | identifier 11 | SRR 1 | IDE 1 | identifier 18 | RTR 1 | r1 1 | r0 1 | DLC 4       = 39
/// flexible, base     SOF 1 | identifier 11 | RRS 1 | IDE 1 | FDF 1 | res 1 | BRS 1 | ESI 1 | DLC 4             = 22
/// flexible, extended SOF 1 | identifier 11 | SRR 1 | IDE 1 | identifier 18 | RRS 1 | FDF 1 | res 1 | BRS 1 | ESI 1 | DLC 4 = 41
/// </code>
/// Classic frames stuff from SOF to the last CRC bit (a stuff bit can follow the last one); Bosch CAN 2.0, 1991. Flexible frames stuff
/// from SOF to the last data bit; the CRC field has stuff bits at fixed places, the first of which stands where a stuff bit after the
/// last data bit would, so there is no second one; ISO 11898-1:2015 (from memory). The length of a flexible frame therefore doesn't
/// depend on its CRC. Field widths: Linux include/linux/can/length.h.
///
/// Speed: both the CRC and the stuff bits go a byte at a time through tables. The stuffing state is the last bit on the wire and how
/// often it was repeated (1–4; the fifth repetition forces a stuff bit, which starts a new run of one). The fields before the data don't
/// fill whole bytes, so filler bits go in front: zeros for the CRC, whose register starts at 0 and stays there, and alternating bits
/// ending in 1 for the stuffing, which look like the recessive bus before SOF.
/// </remarks>
public static class FrameLength
{
    private const int CrcDelimiterBits = 1;
    private const int CrcBits = 15;
    private const int FooterBits = 9;

    /// <summary>Between frames (ISO 11898-1); they count in a frame's length here.</summary>
    public const int IntermissionBits = 3;

    private const int ClassicBaseHeaderBits = 19;
    private const int ClassicExtendedHeaderBits = 39;
    private const int FlexibleBaseHeaderBits = 22;
    private const int FlexibleExtendedHeaderBits = 41;

    /// <summary>ESI and DLC: the part of the header behind the switch of the bit rate.</summary>
    private const int BitsBehindSwitch = 5;

    /// <summary>Stuff count 4, CRC 17, fixed stuff bits 6.</summary>
    private const int FlexibleShortCrcBits = 27;

    /// <summary>Stuff count 4, CRC 21, fixed stuff bits 7.</summary>
    private const int FlexibleLongCrcBits = 32;

    private const int LongestWithShortCrc = 16;

    private const int CrcPolynomial = 0x4599;

    /// <summary>Entries hold the next state, shifted to where it indexes the next look-up, and the stuff bits added above it.</summary>
    private const int StateMask = 0x700;
    private const int StuffShift = 11;

    /// <summary>One bit of value 0, as before the alternating filler that starts with 1.</summary>
    private const int StateBeforeFillerOne = 0;

    /// <summary>One bit of value 1, as before the alternating filler that starts with 0, and as on the idle bus.</summary>
    private const int StateBeforeFillerZero = 4 << 8;

    private static readonly ushort[] StuffTable = BuildStuffTable();
    private static readonly ushort[] CrcTable = BuildCrcTable();

    private static ReadOnlySpan<byte> FlexibleLengths => [0, 1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 20, 24, 32, 48, 64];

    /// <summary>Payload bytes that a CAN FD data length code (0–15) stands for. ISO 11898-1:2015, from memory.</summary>
    public static int FlexiblePayload(int dataLengthCode) => FlexibleLengths[dataLengthCode & 15];

    /// <summary>The data length code for a CAN FD payload of so many bytes, or -1 where no code stands for that number.</summary>
    public static int FlexibleCode(int payloadBytes) => FlexibleLengths.IndexOf((byte)Math.Clamp(payloadBytes, 0, 255));

    /// <summary>
    /// Bits of the frame, stuff bits and the 3-bit intermission included. A remote frame has no data bits whatever its DLC.
    /// An error message is no frame on the wire and has no length: 0.
    /// </summary>
    public static FrameBits Of(in CanFrame frame)
    {
        if ((frame.Flags & (FrameFlags.Error | FrameFlags.Flexible)) != 0)
        {
            return frame.IsError ? default : OfFlexible(frame);
        }

        bool extended = frame.Id.IsExtended;
        int bytes = frame.IsRemote ? 0 : Math.Min((int)frame.Length, 8);
        ClassicStuffAndCrc(frame, extended, bytes, out int stuffBits, out _);
        int header = extended ? ClassicExtendedHeaderBits : ClassicBaseHeaderBits;
        return new(header + (8 * bytes) + CrcBits + CrcDelimiterBits + FooterBits + IntermissionBits + stuffBits, 0);
    }

    /// <summary>The CRC sequence of a classic frame as sent. The caller guarantees a classic frame.</summary>
    internal static int Crc15(in CanFrame frame)
    {
        ClassicStuffAndCrc(frame, frame.Id.IsExtended, frame.IsRemote ? 0 : Math.Min((int)frame.Length, 8), out _, out int crc);
        return crc;
    }

    /// <summary>CRC-15/CAN over whole bytes, register starting at 0. Catalogue check value for "123456789": 0x059E.</summary>
    internal static int Crc15(ReadOnlySpan<byte> bytes)
    {
        int crc = 0;
        foreach (byte value in bytes)
        {
            crc = NextCrc(crc, value);
        }

        return crc;
    }

    /// <summary>Stuff bits that a frame contains: dynamic ones, without the fixed ones of a flexible frame's CRC field.</summary>
    internal static int StuffBits(in CanFrame frame)
    {
        if (frame.IsError)
        {
            return 0;
        }

        if (frame.IsFlexible)
        {
            return FlexibleStuffBits(frame, frame.Id.IsExtended, FlexiblePayload(frame.DataLengthCode));
        }

        ClassicStuffAndCrc(frame, frame.Id.IsExtended, frame.IsRemote ? 0 : Math.Min((int)frame.Length, 8), out int stuffBits, out _);
        return stuffBits;
    }

    private static void ClassicStuffAndCrc(in CanFrame frame, bool extended, int bytes, out int stuffBits, out int crc)
    {
        ushort[] stuff = StuffTable;
        ushort[] crcs = CrcTable;
        uint remote = frame.IsRemote ? 1u : 0u;
        uint code = frame.DataLengthCode & 15u;
        uint value = frame.Id.Value;
        int state;
        int sum = 0;
        int register = 0;

        if (!extended)
        {
            // 5 bits of filler 10101, then the 19 bits of the header.
            uint header = (value << 7) | (remote << 6) | code;
            state = stuff[StateBeforeFillerOne | 0xA8 | (int)(header >> 16)];
            sum += state >> StuffShift;
            register = NextCrc(crcs, register, (byte)(header >> 16));
            state = stuff[(state & StateMask) | (int)((header >> 8) & 0xFF)];
            sum += state >> StuffShift;
            register = NextCrc(crcs, register, (byte)(header >> 8));
            state = stuff[(state & StateMask) | (int)(header & 0xFF)];
            sum += state >> StuffShift;
            register = NextCrc(crcs, register, (byte)header);
        }
        else
        {
            // 1 bit of filler, then the 39 bits of the header.
            ulong header = ((ulong)(value >> 18) << 27) | (3UL << 25) | ((ulong)(value & 0x3FFFF) << 7) | (remote << 6) | code;
            state = StateBeforeFillerOne;
            ulong filled = header | (1UL << 39);
            for (int shift = 32; shift >= 0; shift -= 8)
            {
                state = stuff[(state & StateMask) | (int)((filled >> shift) & 0xFF)];
                sum += state >> StuffShift;
                register = NextCrc(crcs, register, (byte)(header >> shift));
            }
        }

        ulong data = frame.FirstEight;
        for (int index = 0; index < bytes; index++)
        {
            byte next = (byte)data;
            data >>= 8;
            state = stuff[(state & StateMask) | next];
            sum += state >> StuffShift;
            register = NextCrc(crcs, register, next);
        }

        // The 15 bits of the CRC and one of filler, the opposite of the last one so that it can't ask for a stuff bit itself.
        int tail = (register << 1) | (~register & 1);
        state = stuff[(state & StateMask) | (tail >> 8)];
        sum += state >> StuffShift;
        state = stuff[(state & StateMask) | (tail & 0xFF)];
        sum += state >> StuffShift;

        stuffBits = sum;
        crc = register;
    }

    private static FrameBits OfFlexible(in CanFrame frame)
    {
        bool extended = frame.Id.IsExtended;
        int bytes = FlexiblePayload(frame.DataLengthCode);
        int stuffBits = FlexibleStuffBits(frame, extended, bytes);
        int header = extended ? FlexibleExtendedHeaderBits : FlexibleBaseHeaderBits;
        int crc = bytes <= LongestWithShortCrc ? FlexibleShortCrcBits : FlexibleLongCrcBits;
        int total = header + (8 * bytes) + crc + CrcDelimiterBits + FooterBits + IntermissionBits + stuffBits;
        if ((frame.Flags & FrameFlags.BitRateSwitch) == 0)
        {
            return new(total, 0);
        }

        // The data phase runs from ESI to the CRC delimiter. No stuff bit can follow BRS itself: it is 1 behind a reserved bit of 0.
        int nominal = header - BitsBehindSwitch + StuffBitsUpToSwitch(frame, extended) + FooterBits + IntermissionBits;
        return new(nominal, total - nominal);
    }

    private static int FlexibleStuffBits(in CanFrame frame, bool extended, int bytes)
    {
        ushort[] stuff = StuffTable;
        ulong header = FlexibleHeader(frame, extended);

        // 2 bits of filler (01) before 22 bits, or 7 bits (1010101) before 41.
        int state = extended ? StateBeforeFillerOne : StateBeforeFillerZero;
        ulong filled = header | (extended ? 0x55UL << 41 : 1UL << 22);
        int sum = 0;
        byte last = 0;
        for (int shift = extended ? 40 : 16; shift >= 0; shift -= 8)
        {
            last = (byte)(filled >> shift);
            state = stuff[(state & StateMask) | last];
            sum += state >> StuffShift;
        }

        ReadOnlySpan<byte> data = ((ReadOnlySpan<byte>)frame.Data)[..bytes];
        foreach (byte next in data)
        {
            last = next;
            state = stuff[(state & StateMask) | next];
            sum += state >> StuffShift;
        }

        // If the last bit on the wire isn't the last bit sent, a stuff bit followed it: the fixed one takes its place.
        bool lastOnWire = (state & StateBeforeFillerZero) != 0;
        bool lastSent = (last & 1) != 0;
        return lastOnWire == lastSent ? sum : sum - 1;
    }

    private static int StuffBitsUpToSwitch(in CanFrame frame, bool extended)
    {
        ushort[] stuff = StuffTable;
        ulong header = FlexibleHeader(frame, extended) >> BitsBehindSwitch;

        // 7 bits of filler (1010101) before 17 bits, or 4 bits (0101) before 36.
        int state = extended ? StateBeforeFillerZero : StateBeforeFillerOne;
        header |= extended ? 0x5UL << 36 : 0x55UL << 17;
        int sum = 0;
        for (int shift = extended ? 32 : 16; shift >= 0; shift -= 8)
        {
            state = stuff[(state & StateMask) | (int)((header >> shift) & 0xFF)];
            sum += state >> StuffShift;
        }

        return sum;
    }

    private static ulong FlexibleHeader(in CanFrame frame, bool extended)
    {
        ulong value = frame.Id.Value;
        ulong control = (1UL << 7)
            | ((frame.Flags & FrameFlags.BitRateSwitch) != 0 ? 1UL << 5 : 0)
            | ((frame.Flags & FrameFlags.ErrorStateIndicator) != 0 ? 1UL << 4 : 0)
            | (frame.DataLengthCode & 15u);
        return extended
            ? ((value >> 18) << 29) | (3UL << 27) | ((value & 0x3FFFF) << 9) | control
            : (value << 10) | control;
    }

    private static int NextCrc(int crc, byte value) => NextCrc(CrcTable, crc, value);

    /// <summary>Called for every byte of every frame, which is more calls in a row than the compiler would inline by itself.</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static int NextCrc(ushort[] table, int crc, byte value) => ((crc << 8) & 0x7FFF) ^ table[(byte)((crc >> 7) ^ value)];

    private static ushort[] BuildStuffTable()
    {
        // State: bit 2 = the last bit on the wire, bits 1–0 = how often it stands there in a row, less one.
        ushort[] table = new ushort[8 * 256];
        for (int start = 0; start < 8; start++)
        {
            for (int value = 0; value < 256; value++)
            {
                int last = start >> 2;
                int run = (start & 3) + 1;
                int added = 0;
                for (int position = 7; position >= 0; position--)
                {
                    int bit = (value >> position) & 1;
                    run = bit == last ? run + 1 : 1;
                    last = bit;
                    if (run == 5)
                    {
                        added++;
                        last = 1 - bit;
                        run = 1;
                    }
                }

                table[(start << 8) | value] = (ushort)((added << StuffShift) | (((last << 2) | (run - 1)) << 8));
            }
        }

        return table;
    }

    private static ushort[] BuildCrcTable()
    {
        ushort[] table = new ushort[256];
        for (int value = 0; value < 256; value++)
        {
            int crc = value << 7;
            for (int bit = 0; bit < 8; bit++)
            {
                crc <<= 1;
                if ((crc & 0x8000) != 0)
                {
                    crc ^= 0x8000 | CrcPolynomial;
                }
            }

            table[value] = (ushort)crc;
        }

        return table;
    }
}
