namespace Diagnostics.Can;

/// <summary>
/// How many bits of a frame are dominant on the wire: those of its header, data and checksum, stuff bits included, and the acknowledge slot, in which the receivers
/// drive. Everything behind is recessive.
/// </summary>
public static class DominantBits
{
    private const int CrcBits = 15;
    private const int RunThatIsStuffed = 5;

    /// <summary>Bits at the end of a frame that are recessive whatever it holds: acknowledge delimiter and end of frame.</summary>
    public const int RecessiveTail = 8;

    /// <summary>Null for an error message, which is no frame, and for a flexible frame, whose bits have two lengths.</summary>
    public static int? Of(in CanFrame frame)
    {
        if (frame.IsError || frame.IsFlexible)
        {
            return null;
        }

        ulong value = frame.Id.Value;
        ulong remote = frame.IsRemote ? 1u : 0u;
        ulong code = frame.DataLengthCode & 15u;
        bool extended = frame.Id.IsExtended;

        // SOF is the highest bit of the header, a zero.
        UInt128 bits = extended
            ? ((value >> 18) << 27) | (3UL << 25) | ((value & 0x3FFFF) << 7) | (remote << 6) | code
            : (value << 7) | (remote << 6) | code;
        int count = extended ? 39 : 19;
        int bytes = frame.IsRemote ? 0 : Math.Min((int)frame.Length, 8);
        ulong data = frame.FirstEight;
        for (int index = 0; index < bytes; index++, data >>= 8)
        {
            bits = (bits << 8) | (byte)data;
        }

        bits = (bits << CrcBits) | (uint)FrameLength.Crc15(frame);
        count += (8 * bytes) + CrcBits;

        int dominant = 1; // the acknowledge slot
        int last = 1;
        int run = 0;
        for (int position = count - 1; position >= 0; position--)
        {
            int bit = (int)(ulong)(bits >> position) & 1;
            dominant += 1 - bit;
            run = bit == last ? run + 1 : 1;
            last = bit;
            if (run == RunThatIsStuffed)
            {
                last = 1 - bit;
                dominant += 1 - last;
                run = 1;
            }
        }

        return dominant;
    }
}
