namespace Diagnostics.Can;

/// <summary>
/// Bits that one good frame takes on the wire, stuff bits and the 3-bit intermission included.
/// <see cref="Data"/> = those sent at the data bit rate (CAN FD with a bit rate switch), otherwise 0; <see cref="Nominal"/> = all others.
/// </summary>
public readonly record struct FrameBits(int Nominal, int Data)
{
    public int Total => Nominal + Data;
}
