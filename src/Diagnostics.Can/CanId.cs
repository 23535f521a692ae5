using System.Globalization;

namespace Diagnostics.Can;

/// <summary>A CAN identifier, 11 bit (base) or 29 bit (extended); no other value can exist. ISO 11898-1.</summary>
public readonly record struct CanId
{
    public const uint MaxBase = 0x7FF;
    public const uint MaxExtended = 0x1FFF_FFFF;
    private const uint ExtendedFlag = 0x8000_0000;

    private readonly uint _raw;

    private CanId(uint raw) => _raw = raw;

    public bool IsExtended => (_raw & ExtendedFlag) != 0;

    public uint Value => _raw & MaxExtended;

    public static CanId Base(uint value) =>
        value <= MaxBase ? new(value) : throw new ArgumentOutOfRangeException(nameof(value), value, "A base identifier has 11 bits.");

    public static CanId Extended(uint value) =>
        value <= MaxExtended ? new(value | ExtendedFlag) : throw new ArgumentOutOfRangeException(nameof(value), value, "An extended identifier has 29 bits.");

    /// <summary>From SocketCAN's identifier word (linux/can.h): bit 31 = extended; the bits above the identifier are ignored.</summary>
    public static CanId FromSocketCan(uint word) =>
        (word & ExtendedFlag) != 0 ? new(ExtendedFlag | (word & MaxExtended)) : new(word & MaxBase);

    /// <summary>
    /// Orders as arbitration on the wire does: lower wins; a base identifier beats an extended one with the same leading 11 bits
    /// (its RTR and IDE bits are dominant where the extended frame sends SRR and IDE recessive). ISO 11898-1.
    /// </summary>
    public uint ArbitrationKey => IsExtended ? (Value << 1) | 1 : Value << 19;

    /// <summary>0x and three digits (11 bit) or eight (29 bit).</summary>
    public override string ToString() =>
        "0x" + Value.ToString(IsExtended ? "X8" : "X3", CultureInfo.InvariantCulture);
}
