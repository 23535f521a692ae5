using System.Text;

namespace Diagnostics.Can.Traces;

/// <summary>
/// The SocketCAN text log, one frame a line; blank lines and lines that begin with # are no frames.
/// </summary>
/// <remarks>
/// <code>
/// (seconds.fraction) interface ID#DATA        classic; DATA up to 8 bytes in hexadecimal, dots between bytes allowed; _D behind 8 bytes = a DLC of 9 to F
/// (seconds.fraction) interface ID#R4          remote, asking for 4 bytes
/// (seconds.fraction) interface ID##FDATA      FD; F = flags: 1 bit rate switch, 2 sender error-passive
/// </code>
/// ID: three digits = 11 bit, eight = 29 bit, or with bit 29 set an error message. A T at the end of the line = sent by this host, R = received.
/// </remarks>
internal sealed class TextLogFormat : ITraceFormat
{
    private const uint ErrorFlag = 0x2000_0000;
    private const int FractionDigits = 9;
    private const long NanosecondsPerSecond = 1_000_000_000;
    private const long MostSeconds = (long.MaxValue / NanosecondsPerSecond) - 1;
    private const int FlexibleSwitchFlag = 1;
    private const int FlexiblePassiveFlag = 2;

    private readonly TraceOutput _output;
    private readonly List<(byte[] Name, byte Index)> _interfaces = [];
    private int _lastInterface;
    private long _line;
    private bool _discarding;
    private bool _understood;
    private int _tried;
    private long _firstTried;
    private long _showsFrames;

    public TextLogFormat(TraceOutput output)
    {
        _output = output;
        output.PlaceUnit = "line";
    }

    public int Needed { get; private set; } = 1;

    public int Consume(ReadOnlySpan<byte> bytes, bool end)
    {
        int position = 0;
        while (_output.Error == null && position < bytes.Length)
        {
            ReadOnlySpan<byte> rest = bytes[position..];
            int length = rest.IndexOf((byte)'\n');
            if (length < 0)
            {
                if (_discarding || rest.Length > TraceLimits.LineBytes)
                {
                    Discard();
                    position = bytes.Length;
                }
                else if (end)
                {
                    // The last line ends without a line end: it may be cut, but it may as well have been edited by hand.
                    _line++;
                    if (Line(rest, last: true))
                    {
                        position = bytes.Length;
                        _output.Remark($"The last line of the text log has no line end, so it may be incomplete.");
                    }
                }

                break;
            }

            position += length + 1;
            if (_discarding)
            {
                _discarding = false;
                continue;
            }

            _line++;
            if (length > TraceLimits.LineBytes)
            {
                Damaged(TraceDamage.LineTooLong);
                continue;
            }

            Line(rest[..length], last: false);
        }

        Needed = bytes.Length - position + 1;
        return position;
    }

    public void Complete(int left)
    {
        if (_understood)
        {
            if (left > 0)
            {
                _output.BrokenOff(_line);
            }

            return;
        }

        if (_tried == 0 && left == 0)
        {
            _output.Fail(TraceProblem.Empty, Math.Max(1, _line), "the text ends here and holds no frame");
            return;
        }

        GiveUp(left > 0 && _tried == 0 ? _line : _firstTried);
    }

    private void Discard()
    {
        if (!_discarding)
        {
            _line++;
            Damaged(TraceDamage.LineTooLong);
        }

        _discarding = true;
    }

    private bool Line(ReadOnlySpan<byte> line, bool last)
    {
        line = line.Trim(" \t\r"u8);
        if (_line == 1 && line.StartsWith("\uFEFF"u8))
        {
            line = line[3..].TrimStart(" \t"u8);
        }

        if (line.IsEmpty || line[0] == (byte)'#')
        {
            return true;
        }

        CanFrame frame = default;
        TraceDamage damage = Read(line, ref frame);
        if (damage == TraceDamage.None)
        {
            _understood = true;
            _output.Frame(in frame);
            return true;
        }

        if (!_understood && _showsFrames == 0 && ShowsFrame(line))
        {
            _showsFrames = _line;
        }

        if (last)
        {
            return false;
        }

        Damaged(damage);
        return true;
    }

    private void Damaged(TraceDamage damage)
    {
        if (!_understood)
        {
            _firstTried = _tried == 0 ? _line : _firstTried;
            if (++_tried >= TraceLimits.LinesBeforeGivingUp)
            {
                GiveUp(_firstTried);
                return;
            }
        }

        _output.Damaged(damage, _line);
    }

    private void GiveUp(long place)
    {
        if (_showsFrames != 0)
        {
            _output.Fail(TraceProblem.TextWithoutTimeStamps, _showsFrames, "the text shows frames, but not when they came; a log line begins with (seconds.micros)");
        }
        else
        {
            _output.Fail(TraceProblem.NotATrace, place, "neither a capture file (pcapng, pcap) nor a text log with lines like (seconds.micros) interface ID#DATA");
        }
    }

    private TraceDamage Read(ReadOnlySpan<byte> line, ref CanFrame frame)
    {
        TraceDamage damage = ReadTime(ref line, out long time);
        if (damage != TraceDamage.None)
        {
            return damage;
        }

        ReadOnlySpan<byte> name = Word(ref line);
        if (name.IsEmpty || name.Length > TraceLimits.InterfaceNameBytes || name.ContainsAnyExceptInRange((byte)'!', (byte)'~'))
        {
            return TraceDamage.LineSyntax;
        }

        ReadOnlySpan<byte> text = Word(ref line);
        FrameFlags direction = FrameFlags.None;
        if (!line.IsEmpty)
        {
            if (line.Length != 1 || line[0] is not ((byte)'T' or (byte)'R'))
            {
                return TraceDamage.LineSyntax;
            }

            direction = line[0] == (byte)'T' ? FrameFlags.OwnHost : FrameFlags.None;
        }

        damage = ReadFrame(text, ref frame);
        if (damage != TraceDamage.None)
        {
            return damage;
        }

        if (!TryInterface(name, out frame.Interface))
        {
            return TraceDamage.InterfaceLimit;
        }

        frame.Flags |= direction;
        frame.Time = new(time);
        return TraceDamage.None;
    }

    private static TraceDamage ReadTime(ref ReadOnlySpan<byte> line, out long time)
    {
        time = 0;
        int close = line.IndexOf((byte)')');
        if (line[0] != (byte)'(' || close < 0)
        {
            return TraceDamage.LineSyntax;
        }

        ReadOnlySpan<byte> text = line[1..close].Trim((byte)' ');
        line = line[(close + 1)..].TrimStart(" \t"u8);
        bool negative = !text.IsEmpty && text[0] == (byte)'-';
        text = negative ? text[1..] : text;
        int point = text.IndexOf((byte)'.');
        if (point < 1 || point == text.Length - 1 || text.Length - point - 1 > FractionDigits)
        {
            return TraceDamage.LineSyntax;
        }

        long seconds = 0;
        foreach (byte digit in text[..point])
        {
            if (digit is < (byte)'0' or > (byte)'9')
            {
                return TraceDamage.LineSyntax;
            }

            seconds = (seconds * 10) + digit - '0';
            if (seconds > MostSeconds)
            {
                return TraceDamage.TimeStamp;
            }
        }

        long fraction = 0;
        int digits = 0;
        foreach (byte digit in text[(point + 1)..])
        {
            if (digit is < (byte)'0' or > (byte)'9')
            {
                return TraceDamage.LineSyntax;
            }

            fraction = (fraction * 10) + digit - '0';
            digits++;
        }

        for (; digits < FractionDigits; digits++)
        {
            fraction *= 10;
        }

        time = (seconds * NanosecondsPerSecond) + fraction;
        time = negative ? -time : time;
        return TraceDamage.None;
    }

    private static TraceDamage ReadFrame(ReadOnlySpan<byte> text, ref CanFrame frame)
    {
        int mark = text.IndexOf((byte)'#');
        if (mark is not (3 or 8))
        {
            return TraceDamage.LineSyntax;
        }

        uint word = 0;
        foreach (byte character in text[..mark])
        {
            int digit = Digit(character);
            if (digit < 0)
            {
                return TraceDamage.LineSyntax;
            }

            word = (word << 4) | (uint)digit;
        }

        bool error = mark == 8 && (word & ErrorFlag) != 0;
        if (!error && word > (mark == 3 ? CanId.MaxBase : CanId.MaxExtended))
        {
            return TraceDamage.Identifier;
        }

        text = text[(mark + 1)..];
        if (error)
        {
            if (!TryBytes(text, 8, ref frame.Data, out int detail))
            {
                return detail < 0 ? TraceDamage.LineSyntax : TraceDamage.PayloadLength;
            }

            frame.Flags = FrameFlags.Error;
            frame.ErrorClassBits = word & CanId.MaxExtended;
            frame.Length = 8;
            frame.DataLengthCode = 8;
            return TraceDamage.None;
        }

        frame.Id = mark == 3 ? CanId.Base(word) : CanId.Extended(word);
        if (!text.IsEmpty && text[0] == (byte)'#')
        {
            return ReadFlexible(text[1..], ref frame);
        }

        if (!text.IsEmpty && text[0] is (byte)'R' or (byte)'r')
        {
            return ReadRemote(text[1..], ref frame);
        }

        int code = 0;
        if (text.Length > 2 && text[^2] == (byte)'_')
        {
            code = Digit(text[^1]);
            text = text[..^2];
            if (code < 9)
            {
                return TraceDamage.LineSyntax;
            }
        }

        if (!TryBytes(text, 8, ref frame.Data, out int length))
        {
            return length < 0 ? TraceDamage.LineSyntax : TraceDamage.PayloadLength;
        }

        if (code != 0 && length != 8)
        {
            return TraceDamage.PayloadLength;
        }

        frame.Length = (byte)length;
        frame.DataLengthCode = (byte)(code != 0 ? code : length);
        return TraceDamage.None;
    }

    private static TraceDamage ReadRemote(ReadOnlySpan<byte> text, ref CanFrame frame)
    {
        frame.Flags = FrameFlags.Remote;
        if (text.IsEmpty)
        {
            return TraceDamage.None;
        }

        int code = Digit(text[0]);
        if (code is < 0 or > 8)
        {
            return code < 0 ? TraceDamage.LineSyntax : TraceDamage.PayloadLength;
        }

        if (text.Length == 3 && text[1] == (byte)'_' && code == 8 && Digit(text[2]) > 8)
        {
            code = Digit(text[2]);
        }
        else if (text.Length != 1)
        {
            return TraceDamage.LineSyntax;
        }

        frame.DataLengthCode = (byte)code;
        return TraceDamage.None;
    }

    private static TraceDamage ReadFlexible(ReadOnlySpan<byte> text, ref CanFrame frame)
    {
        int flags = text.IsEmpty ? -1 : Digit(text[0]);
        if (flags < 0)
        {
            return TraceDamage.LineSyntax;
        }

        if (!TryBytes(text[1..], Payload.Capacity, ref frame.Data, out int length))
        {
            return length < 0 ? TraceDamage.LineSyntax : TraceDamage.PayloadLength;
        }

        int code = FrameLength.FlexibleCode(length);
        if (code < 0)
        {
            return TraceDamage.PayloadLength;
        }

        frame.Flags = FrameFlags.Flexible
            | ((flags & FlexibleSwitchFlag) != 0 ? FrameFlags.BitRateSwitch : 0)
            | ((flags & FlexiblePassiveFlag) != 0 ? FrameFlags.ErrorStateIndicator : 0);
        frame.Length = (byte)length;
        frame.DataLengthCode = (byte)code;
        return TraceDamage.None;
    }

    /// <summary>False with <paramref name="length"/> -1 where it isn't hexadecimal, or with the limit where there is more.</summary>
    private static bool TryBytes(ReadOnlySpan<byte> text, int limit, ref Payload payload, out int length)
    {
        length = 0;
        int position = 0;
        while (position < text.Length)
        {
            if (length > 0 && text[position] == (byte)'.')
            {
                position++;
            }

            int high = position < text.Length ? Digit(text[position]) : -1;
            int low = position + 1 < text.Length ? Digit(text[position + 1]) : -1;
            if (high < 0 || low < 0)
            {
                length = -1;
                return false;
            }

            if (length == limit)
            {
                return false;
            }

            payload[length++] = (byte)((high << 4) | low);
            position += 2;
        }

        return true;
    }

    private bool TryInterface(ReadOnlySpan<byte> name, out byte index)
    {
        if (_lastInterface < _interfaces.Count && name.SequenceEqual(_interfaces[_lastInterface].Name))
        {
            index = _interfaces[_lastInterface].Index;
            return true;
        }

        for (int position = 0; position < _interfaces.Count; position++)
        {
            if (name.SequenceEqual(_interfaces[position].Name))
            {
                _lastInterface = position;
                index = _interfaces[position].Index;
                return true;
            }
        }

        if (!_output.TryInterface(Encoding.ASCII.GetString(name), out index))
        {
            return false;
        }

        _lastInterface = _interfaces.Count;
        _interfaces.Add((name.ToArray(), index));
        return true;
    }

    /// <summary>Whether the line shows a frame in some layout: ID#, or a length in brackets.</summary>
    private static bool ShowsFrame(ReadOnlySpan<byte> line)
    {
        int mark = line.IndexOf((byte)'#');
        if (mark >= 3 && Digit(line[mark - 1]) >= 0 && Digit(line[mark - 2]) >= 0 && Digit(line[mark - 3]) >= 0 && line[0] != (byte)'(')
        {
            return true;
        }

        int open = line.IndexOf((byte)'[');
        int close = line.IndexOf((byte)']');
        return open > 3 && close > open + 1 && close <= open + 3 && !line[(open + 1)..close].ContainsAnyExceptInRange((byte)'0', (byte)'9')
            && Digit(line[..open].TrimEnd((byte)' ')[^1]) >= 0;
    }

    private static ReadOnlySpan<byte> Word(ref ReadOnlySpan<byte> line)
    {
        int end = line.IndexOfAny((byte)' ', (byte)'\t');
        ReadOnlySpan<byte> word = end < 0 ? line : line[..end];
        line = end < 0 ? default : line[end..].TrimStart(" \t"u8);
        return word;
    }

    private static int Digit(byte character) => character switch
    {
        >= (byte)'0' and <= (byte)'9' => character - '0',
        >= (byte)'A' and <= (byte)'F' => character - 'A' + 10,
        >= (byte)'a' and <= (byte)'f' => character - 'a' + 10,
        _ => -1,
    };
}
