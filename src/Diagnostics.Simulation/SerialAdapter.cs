using System.Globalization;
using System.Text;
using Diagnostics.Can;

namespace Diagnostics.Simulation;

/// <summary>What the kernel asks of a serial-line adapter.</summary>
public enum SerialRequest
{
    /// <summary>Nothing that is known; the adapter answers with a bell.</summary>
    Unknown,
    Close,
    Open,
    OpenListenOnly,

    /// <summary>Bit rate code; see <see cref="SerialAdapter.TryReadBitRate"/>.</summary>
    BitRate,

    /// <summary>A frame to send; the agent never transmits, so a simulated adapter only acknowledges it.</summary>
    Transmit,
}

/// <summary>
/// Text of the serial-line CAN protocol that Linux's slcan driver speaks, so that a simulated site can stand behind a kernel interface
/// (drivers/net/can/slcan; states and errors since Linux 6.0). Each line ends with a carriage return. No I/O here.
/// </summary>
public static class SerialAdapter
{
    private const char End = '\r';

    /// <summary>Codes S0–S8, bit/s.</summary>
    private static readonly int[] BitRates = [10_000, 20_000, 50_000, 100_000, 125_000, 250_000, 500_000, 800_000, 1_000_000];

    /// <summary>
    /// Appends one received frame or error message; false where the protocol can't say it (CAN FD, a restart, an overload),
    /// then nothing is appended. One error message may become two lines, a state and an error.
    /// </summary>
    public static bool TryAppend(in CanFrame frame, StringBuilder text)
    {
        if (frame.IsFlexible)
        {
            return false;
        }

        if (frame.IsError)
        {
            return TryAppendError(ErrorMessage.From(frame), text);
        }

        char kind = (frame.IsRemote, frame.Id.IsExtended) switch
        {
            (false, false) => 't',
            (false, true) => 'T',
            (true, false) => 'r',
            (true, true) => 'R',
        };
        text.Append(kind).Append(frame.Id.Value.ToString(frame.Id.IsExtended ? "X8" : "X3", CultureInfo.InvariantCulture));
        text.Append((char)('0' + Math.Min(frame.DataLengthCode, (byte)8)));
        foreach (byte value in frame.Bytes)
        {
            text.Append(value.ToString("X2", CultureInfo.InvariantCulture));
        }

        text.Append(End);
        return true;
    }

    private static bool TryAppendError(in ErrorMessage message, StringBuilder text)
    {
        int before = text.Length;
        char? state = StateOf(message);
        if (state is { } letter)
        {
            // Receive counter first. A bus-off controller can't show its 256 in three digits of a byte, so 255 stands for it.
            int transmit = message.IsBusOff ? 255 : message.CounterByte6;
            text.Append('s').Append(letter)
                .Append(((int)message.CounterByte7).ToString("D3", CultureInfo.InvariantCulture))
                .Append(transmit.ToString("D3", CultureInfo.InvariantCulture))
                .Append(End);
        }

        string kinds = KindsOf(message);
        if (kinds.Length > 0)
        {
            text.Append('e').Append((char)('0' + kinds.Length)).Append(kinds).Append(End);
        }

        return text.Length > before;
    }

    private static char? StateOf(in ErrorMessage message)
    {
        if (message.IsBusOff)
        {
            return 'b';
        }

        if ((message.Classes & ErrorClasses.Controller) == 0)
        {
            return null;
        }

        ControllerProblems problems = message.Controller;
        return (problems & (ControllerProblems.ReceivePassive | ControllerProblems.TransmitPassive)) != 0 ? 'p'
            : (problems & (ControllerProblems.ReceiveWarning | ControllerProblems.TransmitWarning)) != 0 ? 'w'
            : (problems & ControllerProblems.BackToActive) != 0 ? 'a'
            : null;
    }

    private static string KindsOf(in ErrorMessage message)
    {
        StringBuilder kinds = new(8);
        if (message.IsAcknowledgeError)
        {
            kinds.Append('a');
        }

        if ((message.Violations & ProtocolViolations.BitDominant) != 0)
        {
            kinds.Append('b');
        }

        if ((message.Violations & (ProtocolViolations.BitRecessive | ProtocolViolations.Bit)) != 0)
        {
            kinds.Append('B');
        }

        if (message.IsCrcError)
        {
            kinds.Append('c');
        }

        if (message.IsFormError)
        {
            kinds.Append('f');
        }

        if (message.IsReceiveOverflow)
        {
            kinds.Append('o');
        }

        if (message.IsStuffError)
        {
            kinds.Append('s');
        }

        return kinds.ToString();
    }

    /// <summary>What one line of the kernel (without its carriage return) asks.</summary>
    public static SerialRequest Read(ReadOnlySpan<char> line) => line switch
    {
        ['C'] => SerialRequest.Close,
        ['O'] => SerialRequest.Open,
        ['L'] => SerialRequest.OpenListenOnly,
        ['S', >= '0' and <= '8'] => SerialRequest.BitRate,
        ['t' or 'T' or 'r' or 'R', ..] => SerialRequest.Transmit,
        _ => SerialRequest.Unknown,
    };

    /// <summary>bit/s of a line that <see cref="Read"/> calls <see cref="SerialRequest.BitRate"/>.</summary>
    public static bool TryReadBitRate(ReadOnlySpan<char> line, out int bitRate)
    {
        bitRate = 0;
        if (Read(line) != SerialRequest.BitRate)
        {
            return false;
        }

        bitRate = BitRates[line[1] - '0'];
        return true;
    }
}
