namespace Diagnostics.Can.Traces;

/// <summary>
/// From the ticks of a pcapng interface to nanoseconds. if_tsresol: top bit 0 = 10^-n s, 1 = 2^-n s, 6 (microseconds) where absent;
/// if_tsoffset: whole seconds on top. draft-tuexen-opsawg-pcapng 4.2.
/// </summary>
internal readonly struct TimeResolution
{
    public const byte Default = 6;
    private const long NanosecondsPerSecond = 1_000_000_000;
    private const byte BinaryFlag = 0x80;
    private const int DecimalsOfNanoseconds = 9;

    /// <summary>More decimals than that make every 64-bit tick count less than a nanosecond.</summary>
    private const int MostDecimals = 28;
    private const int WordBits = 64;

    private readonly ulong _multiplier;
    private readonly ulong _mostTicks;
    private readonly ulong _divisor;
    private readonly int _shift;
    private readonly long _offset;

    public TimeResolution(byte resolution, long offsetSeconds)
    {
        IsValid = offsetSeconds is > -NanosecondsPerSecond * 9 and < NanosecondsPerSecond * 9;
        _offset = IsValid ? offsetSeconds * NanosecondsPerSecond : 0;
        int exponent = resolution & ~BinaryFlag;
        if ((resolution & BinaryFlag) != 0)
        {
            _shift = exponent;
        }
        else if (exponent <= DecimalsOfNanoseconds)
        {
            _multiplier = Power(DecimalsOfNanoseconds - exponent);
            _mostTicks = long.MaxValue / _multiplier;
        }
        else if (exponent <= MostDecimals)
        {
            _divisor = Power(exponent - DecimalsOfNanoseconds);
        }
        else
        {
            IsValid = false;
        }
    }

    public bool IsValid { get; }

    public bool TryConvert(ulong ticks, out Instant time)
    {
        time = default;
        long nanoseconds;
        if (_multiplier != 0)
        {
            if (ticks > _mostTicks)
            {
                return false;
            }

            nanoseconds = (long)(ticks * _multiplier);
        }
        else
        {
            if (!IsValid)
            {
                return false;
            }

            ulong whole = _divisor != 0 ? ticks / _divisor : BinaryNanoseconds(ticks);
            if (whole > long.MaxValue)
            {
                return false;
            }

            nanoseconds = (long)whole;
        }

        long sum = unchecked(nanoseconds + _offset);
        if (_offset > 0 && sum < nanoseconds)
        {
            return false;
        }

        time = new(sum);
        return IsValid;
    }

    /// <summary>Ticks of 2^-<see cref="_shift"/> s; all ones where it is too much. In two halves: the compiler doesn't compile 128-bit numbers ahead.</summary>
    private ulong BinaryNanoseconds(ulong ticks)
    {
        ulong high = Math.BigMul(ticks, NanosecondsPerSecond, out ulong low);
        if (_shift >= WordBits)
        {
            return high >> (_shift - WordBits);
        }

        return high >> _shift != 0 ? ulong.MaxValue : _shift == 0 ? low : (high << (WordBits - _shift)) | (low >> _shift);
    }

    private static ulong Power(int exponent)
    {
        ulong power = 1;
        for (int digit = 0; digit < exponent; digit++)
        {
            power *= 10;
        }

        return power;
    }
}
