using Diagnostics.Can;

namespace Diagnostics.Tests.Can;

/// <summary>
/// A frame built bit by bit as the rules are written (Bosch CAN 2.0; ISO 11898-1:2015 from memory), slow and without tables: the oracle for <see cref="FrameLength"/>.
/// </summary>
internal sealed class NaiveFrame
{
    private readonly List<int> _sent = [];

    /// <summary>SOF to EOF as on the wire, stuff bits included, ACK slot dominant.</summary>
    public List<int> Wire { get; } = [];

    public List<int> StuffAfter { get; } = [];

    public int Crc { get; private set; }

    public int Unstuffed { get; private set; }

    /// <summary>Wire bits between BRS and the CRC delimiter, that one included.</summary>
    public int DataPhaseBits { get; private set; }

    public string WireText => string.Concat(Wire);

    public NaiveFrame(in CanFrame frame)
    {
        bool extended = frame.Id.IsExtended;
        bool flexible = frame.IsFlexible;
        uint id = frame.Id.Value;
        Put(0, 1);
        Put(extended ? id >> 18 : id, 11);
        if (extended)
        {
            Put(3, 2);
            Put(id & 0x3FFFF, 18);
        }

        int switched = 0;
        if (flexible)
        {
            Put(0, 1);
            if (!extended)
            {
                Put(0, 1);
            }

            Put(1, 1);
            Put(0, 1);
            Put((frame.Flags & FrameFlags.BitRateSwitch) != 0 ? 1u : 0, 1);
            switched = _sent.Count;
            Put((frame.Flags & FrameFlags.ErrorStateIndicator) != 0 ? 1u : 0, 1);
        }
        else
        {
            Put(frame.IsRemote ? 1u : 0, 1);
            Put(0, 2);
        }

        Put(frame.DataLengthCode, 4);
        for (int index = 0; index < frame.Length; index++)
        {
            Put(frame.Data[index], 8);
        }

        if (flexible)
        {
            BuildFlexible(frame, switched);
        }
        else
        {
            Crc = Remainder(_sent, 15, 0x4599, 0);
            Put((uint)Crc, 15);
            StuffInto(_sent, allowAfterLast: true);
            Wire.Add(1);
            Unstuffed = _sent.Count + 1 + 9;
        }

        Wire.AddRange([0, 1, 1, 1, 1, 1, 1, 1, 1]);
    }

    /// <summary>Remainder of the bits, one at a time, most significant first.</summary>
    public static int Remainder(IEnumerable<int> bits, int width, int polynomial, int start)
    {
        int register = start;
        foreach (int bit in bits)
        {
            int top = ((register >> (width - 1)) & 1) ^ bit;
            register = (register << 1) & ((1 << width) - 1);
            if (top != 0)
            {
                register ^= polynomial;
            }
        }

        return register;
    }

    private void BuildFlexible(in CanFrame frame, int switched)
    {
        int before = 0;
        StuffInto(_sent, allowAfterLast: false);
        int stuffBits = StuffAfter.Count;
        foreach (int position in StuffAfter)
        {
            before += position < switched ? 1 : 0;
        }

        int gray = (stuffBits & 7) ^ ((stuffBits & 7) >> 1);
        int parity = (gray ^ (gray >> 1) ^ (gray >> 2)) & 1;
        bool shortCrc = frame.Length <= 16;
        List<int> field = [];
        Append(field, (uint)((gray << 1) | parity), 4);
        // The CRC covers the stuffed stream and the stuff count.
        Crc = Remainder(Wire.Concat(field), shortCrc ? 17 : 21, shortCrc ? 0x1685B : 0x102899, shortCrc ? 0x10000 : 0x100000);
        Append(field, (uint)Crc, shortCrc ? 17 : 21);
        for (int index = 0; index < field.Count; index++)
        {
            if (index % 4 == 0)
            {
                Wire.Add(1 - Wire[^1]);
            }

            Wire.Add(field[index]);
        }

        Wire.Add(1);
        Unstuffed = Wire.Count - stuffBits + 9;
        DataPhaseBits = (frame.Flags & FrameFlags.BitRateSwitch) != 0 ? Wire.Count - switched - before : 0;
    }

    private void StuffInto(List<int> bits, bool allowAfterLast)
    {
        for (int index = 0; index < bits.Count; index++)
        {
            Wire.Add(bits[index]);
            if (index == bits.Count - 1 && !allowAfterLast)
            {
                return;
            }

            int count = Wire.Count;
            if (count >= 5 && Wire[count - 1] == Wire[count - 2] && Wire[count - 2] == Wire[count - 3]
                && Wire[count - 3] == Wire[count - 4] && Wire[count - 4] == Wire[count - 5])
            {
                Wire.Add(1 - Wire[count - 1]);
                StuffAfter.Add(index);
            }
        }
    }

    private void Put(uint value, int width) => Append(_sent, value, width);

    private static void Append(List<int> bits, uint value, int width)
    {
        for (int position = width - 1; position >= 0; position--)
        {
            bits.Add((int)((value >> position) & 1));
        }
    }
}
