using System.Buffers.Binary;
using System.Globalization;
using Diagnostics.Can;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Protocols.CanOpen;

/// <summary>
/// Says of each frame what it means, for a person who looks at the traffic frame by frame. Reads frames in order, because what some mean depends on those before: how PDOs
/// are mapped, which object an SDO transfer is about, what changed. Never throws, whatever the frame. One owner.
/// </summary>
public sealed class FrameTeller
{
    private readonly Events _events;
    private readonly CanOpenDecoder _decoder;

    /// <param name="record">For names and for where PDOs carry what; null = none.</param>
    /// <param name="names">Names that nodes gave themselves, by address.</param>
    public FrameTeller(AsBuiltRecord? record = null, IReadOnlyDictionary<int, string>? names = null)
    {
        _events = new(new SiteNames(record, names));
        _decoder = new(_events, record);
    }

    /// <summary>An error message or a frame of any protocol: its form only.</summary>
    public static Sentence Form(in CanFrame frame) => frame switch
    {
        { IsError: true } => OfError(ErrorMessage.From(frame)),
        { IsRemote: true } => Say($"Remote frame: asks for {(int)frame.DataLengthCode} bytes"),
        { IsFlexible: true } => Say($"CAN FD frame"),
        _ => Say($"Data frame"),
    };

    /// <summary>A frame of a bus that speaks CANopen.</summary>
    public Sentence Tell(in CanFrame frame)
    {
        if (frame.IsError)
        {
            return Form(frame);
        }

        _events.Begin();
        DecodeOutcome outcome = _decoder.Decode(frame);
        Sentence told = _events.ToSentence();
        return outcome switch
        {
            DecodeOutcome.Understood when told.IsEmpty => Form(frame),
            DecodeOutcome.Understood => told,
            DecodeOutcome.NotCanOpen => Say($"{Form(frame)}, not of CANopen"),
            _ when told.IsEmpty => Say($"{Problem(outcome)}"),
            _ => Say($"{told} – {Problem(outcome)}"),
        };
    }

    /// <summary>A frame that is only remembered for what follows.</summary>
    public void Hear(in CanFrame frame)
    {
        if (!frame.IsError)
        {
            _events.IsMuted = true;
            _decoder.Decode(frame);
            _events.IsMuted = false;
        }
    }

    private static Sentence OfError(ErrorMessage message)
    {
        List<Sentence> parts = [];
        void Add(bool isSo, Sentence words)
        {
            if (isSo)
            {
                parts.Add(words);
            }
        }

        Add(message.IsBitError, Say($"a bit was not as it was sent"));
        Add(message.IsStuffError, Say($"more than five equal bits in a row (stuff error)"));
        Add(message.IsFormError, Say($"a fixed bit was wrong (form error)"));
        Add(message.IsCrcError, Say($"the checksum was wrong (CRC error)"));
        Add(message.IsAcknowledgeError, Say($"nobody acknowledged"));
        Add(message.IsOtherWireError, Say($"of a kind that the adapter does not tell"));
        if (parts.Count > 0)
        {
            return Say($"Error on the wire: {List(parts)}");
        }

        return message.IsBusOff ? Say($"Our adapter went off the bus (bus-off)")
            : message.IsRestarted ? Say($"Our adapter came back to the bus")
            : message.IsReceiveOverflow ? Say($"Our adapter lost frames (receive overflow)")
            : Say($"Our adapter reports its own state, no error on the wire");
    }

    private static Sentence Problem(DecodeOutcome outcome) => outcome switch
    {
        DecodeOutcome.NmtWrongLength => Say($"a network command of the wrong length"),
        DecodeOutcome.UnknownNmtCommand => Say($"a network command that CANopen does not define"),
        DecodeOutcome.NmtAddressOutOfRange => Say($"a network command to an address that cannot exist"),
        DecodeOutcome.SyncWrongLength => Say($"a SYNC of the wrong length"),
        DecodeOutcome.TimeTooShort => Say($"a time message that is too short"),
        DecodeOutcome.EmergencyTooShort => Say($"an emergency message that is too short"),
        DecodeOutcome.ErrorControlEmpty => Say($"a heartbeat without content"),
        DecodeOutcome.UnknownState => Say($"a heartbeat that names no state"),
        DecodeOutcome.SdoTooShort => Say($"too short for what it says it is"),
        DecodeOutcome.SdoUnknownCommand => Say($"a command that CANopen does not define"),
        DecodeOutcome.SdoUnexpectedRequest => Say($"goes on with a transfer whose beginning is not in these frames"),
        DecodeOutcome.SdoUnexpectedAnswer => Say($"nobody asked for it in these frames"),
        DecodeOutcome.SdoToggleWrong => Say($"a piece was lost or came twice"),
        DecodeOutcome.SdoSequenceWrong => Say($"a piece is out of order"),
        DecodeOutcome.PdoTooShort => Say($"shorter than what it should carry"),
        _ => Say($"without content"),
    };

    private sealed class Events(SiteNames names) : ICanOpenEvents
    {
        private const int MostBytesShown = 16;

        private readonly List<Sentence> _parts = [];
        private readonly List<int> _on = [];
        private readonly List<int> _off = [];
        private bool _isFirst;
        private Carried _carried;
        private bool _isPdo;

        private enum Carried
        {
            Nothing,
            Inputs,
            Commands,
            Reports,
        }

        /// <summary>Nothing is to be said.</summary>
        public bool IsMuted { get; set; }

        public void Begin()
        {
            _parts.Clear();
            EndOfPart();
        }

        public Sentence ToSentence()
        {
            Close();
            Sentence told = Sentence.Empty;
            foreach (Sentence part in _parts)
            {
                told = told.IsEmpty ? part : Say($"{told}; {part}");
            }

            return told;
        }

        public void OnNetworkCommand(Instant time, NmtCommand command, byte node)
        {
            if (!IsMuted)
            {
                _parts.Add(
                    node == 0 ? Say($"Network command to all nodes: {Term(CanOpenWords.Command(command))}") : Say($"Network command to {Node(node)}: {Term(CanOpenWords.Command(command))}"));
            }
        }

        public void OnBootUp(Instant time, byte node)
        {
            if (!IsMuted)
            {
                _parts.Add(Say($"{Node(node)} has started (boot-up)"));
            }
        }

        public void OnErrorControl(Instant time, byte node, NodeState state, bool isGuardAnswer)
        {
            if (!IsMuted)
            {
                _parts.Add(
                    isGuardAnswer ? Say($"Answer of {Node(node)} to guarding: {Term(CanOpenWords.State(state))}") : Say($"Heartbeat of {Node(node)}: {Term(CanOpenWords.State(state))}"));
            }
        }

        public void OnGuardRequest(Instant time, byte node)
        {
            if (!IsMuted)
            {
                _parts.Add(Say($"{Node(node)} is asked for its state (guarding)"));
            }
        }

        public void OnSync(Instant time)
        {
            if (!IsMuted)
            {
                _parts.Add(Say($"SYNC, the common beat"));
            }
        }

        public void OnTime(Instant time)
        {
            if (!IsMuted)
            {
                _parts.Add(Say($"TIME, the time of day"));
            }
        }

        public void OnEmergency(Instant time, byte node, ushort errorCode, byte errorRegister, ReadOnlySpan<byte> manufacturer)
        {
            if (!IsMuted)
            {
                _parts.Add(
                    Say($"Emergency message of {Node(node)}: {CanOpenWords.Emergency(errorCode)} (code {Hex(errorCode, 4)}); error register: {CanOpenWords.ErrorRegister(errorRegister)}"));
            }
        }

        public void OnSdoRequest(Instant time, byte node, ReadOnlySpan<byte> data)
        {
            if (IsMuted)
            {
                return;
            }

            if (data.Length == 0)
            {
                _parts.Add(Say($"Settings message (SDO) to {Node(node)}"));
                return;
            }

            // CiA 301: the client's command is in the upper three bits.
            _parts.Add((data[0] >> 5, data.Length >= 4) switch
            {
                (1, true) => Say($"{Node(node)} is told to set {Object(data)}"),
                (2, true) => Say($"{Node(node)} is asked for {Object(data)}"),
                (5, true) when (data[0] & 3) == 0 => Say($"{Node(node)} is asked for {Object(data)}, in blocks"),
                (6, true) when (data[0] & 1) == 0 => Say($"{Node(node)} is told to set {Object(data)}, in blocks"),
                (0 or 3, _) => Say($"The next piece of a transfer (SDO) with {Node(node)}"),
                (4, _) => Say($"The transfer (SDO) with {Node(node)} is broken off by who asked"),
                _ => Say($"Settings message (SDO) to {Node(node)}"),
            });
        }

        public void OnSdoAnswer(Instant time, byte node, ReadOnlySpan<byte> data)
        {
            if (IsMuted)
            {
                return;
            }

            if (data.Length == 0)
            {
                _parts.Add(Say($"Answer (SDO) of {Node(node)}"));
                return;
            }

            _parts.Add((data[0] >> 5, data.Length >= 4) switch
            {
                (2, true) => Say($"{Node(node)} answers about {Object(data)}"),
                (3, true) => Say($"{Node(node)} confirms {Object(data)}"),
                (0 or 1, _) => Say($"The next piece of a transfer (SDO) from {Node(node)}"),
                (4, _) => Say($"{Node(node)} refuses"),
                _ => Say($"Answer (SDO) of {Node(node)}"),
            });
        }

        public void OnObjectValue(Instant time, byte node, ushort index, byte subIndex, ReadOnlySpan<byte> value, bool isWrite)
        {
            if (!IsMuted)
            {
                _parts.Add(
                    isWrite ? Say($"it is now {Value(value)}") : Say($"it is {Value(value)}"));
            }
        }

        public void OnSdoAbort(Instant time, byte node, ushort index, byte subIndex, uint abortCode, bool byServer)
        {
            if (!IsMuted)
            {
                _parts.Add(
                    Say($"{Term(CanOpenWords.SdoAbort(abortCode))} (code {Hex(abortCode, 8)})"));
            }
        }

        public void OnPdo(Instant time, byte node, int number, bool isTransmit)
        {
            if (IsMuted)
            {
                return;
            }

            Close();
            _isPdo = true;
            _parts.Add(isTransmit ? Say($"Process data of {Node(node)} (TPDO{number})") : Say($"Process data for {Node(node)} (RPDO{number})"));
        }

        public void OnInput(Instant time, byte node, int input, bool active, bool isFirst)
        {
            if (!IsMuted)
            {
                Carry(Carried.Inputs, input, active, isFirst);
            }
        }

        public void OnOutputCommand(Instant time, byte node, int output, bool active, bool isFirst)
        {
            if (!IsMuted)
            {
                Carry(Carried.Commands, output, active, isFirst);
            }
        }

        public void OnOutputReport(Instant time, byte node, int output, bool active, bool isFirst)
        {
            if (!IsMuted)
            {
                Carry(Carried.Reports, output, active, isFirst);
            }
        }

        public void OnLss(Instant time, bool isRequest, ReadOnlySpan<byte> data)
        {
            if (!IsMuted)
            {
                _parts.Add(
                    isRequest ? Say($"Setting of addresses (LSS), request") : Say($"Setting of addresses (LSS), answer"));
            }
        }

        private void Carry(Carried what, int number, bool active, bool isFirst)
        {
            if (IsMuted)
            {
                return;
            }

            if (_carried != what || _isFirst != isFirst)
            {
                Carried before = _carried;
                bool isPdo = _isPdo;
                if (before != Carried.Nothing)
                {
                    Close();
                    _isPdo = isPdo;
                }

                _carried = what;
                _isFirst = isFirst;
            }

            (active ? _on : _off).Add(number);
        }

        /// <summary>Says what the frame carries, as far as it was read.</summary>
        private void Close()
        {
            if (_carried == Carried.Nothing)
            {
                if (_isPdo)
                {
                    _parts.Add(Say($"nothing changed that is known"));
                }
            }
            else if (_isFirst)
            {
                _parts.Add((_carried, _on.Count) switch
                {
                    (Carried.Inputs, 0) => Say($"no input is active"),
                    (Carried.Inputs, _) => Say(_on.Count, $"input {Numbers(_on)} is active", $"inputs {Numbers(_on)} are active"),
                    (Carried.Commands, 0) => Say($"all outputs are commanded off"),
                    (Carried.Commands, _) => Say(_on.Count, $"output {Numbers(_on)} is commanded on", $"outputs {Numbers(_on)} are commanded on"),
                    (_, 0) => Say($"no output is on"),
                    _ => Say(_on.Count, $"output {Numbers(_on)} is on", $"outputs {Numbers(_on)} are on"),
                });
            }
            else
            {
                Changes(_on, isOn: true);
                Changes(_off, isOn: false);
            }

            EndOfPart();
        }

        private void Changes(List<int> numbers, bool isOn)
        {
            if (numbers.Count > 0)
            {
                _parts.Add((_carried, isOn) switch
                {
                    (Carried.Inputs, true) => Say(numbers.Count, $"input {Numbers(numbers)} became active", $"inputs {Numbers(numbers)} became active"),
                    (Carried.Inputs, false) => Say(numbers.Count, $"input {Numbers(numbers)} became inactive", $"inputs {Numbers(numbers)} became inactive"),
                    (Carried.Commands, true) => Say(numbers.Count, $"output {Numbers(numbers)} is commanded on", $"outputs {Numbers(numbers)} are commanded on"),
                    (Carried.Commands, false) => Say(numbers.Count, $"output {Numbers(numbers)} is commanded off", $"outputs {Numbers(numbers)} are commanded off"),
                    (_, true) => Say(numbers.Count, $"output {Numbers(numbers)} went on", $"outputs {Numbers(numbers)} went on"),
                    _ => Say(numbers.Count, $"output {Numbers(numbers)} went off", $"outputs {Numbers(numbers)} went off"),
                });
            }
        }

        private void EndOfPart()
        {
            _on.Clear();
            _off.Clear();
            _carried = Carried.Nothing;
            _isFirst = false;
            _isPdo = false;
        }

        private static string Numbers(List<int> numbers) => string.Join(", ", numbers.Select(number => number.ToString(CultureInfo.InvariantCulture)));

        private Sentence Node(int node) => names.NodeName(node) is { } name ? Say($"{name} (node {node})") : Say($"node {node}");

        private static Sentence Object(ReadOnlySpan<byte> data)
        {
            ushort index = BinaryPrimitives.ReadUInt16LittleEndian(data[1..]);
            return Say($"{Term(CanOpenWords.ObjectName(index))} ({index.ToString("X4", CultureInfo.InvariantCulture)}h:{data[3].ToString("X2", CultureInfo.InvariantCulture)})");
        }

        /// <summary>Numbers of up to four bytes as such, texts as texts, the rest in hexadecimal.</summary>
        private static Sentence Value(ReadOnlySpan<byte> value)
        {
            if (value.Length is > 0 and <= 4)
            {
                uint number = 0;
                for (int place = 0; place < value.Length; place++)
                {
                    number |= (uint)value[place] << (8 * place);
                }

                return Say($"{number} ({Hex(number, 2 * value.Length)})");
            }

            return value.Length > 4 && !value.ContainsAnyExceptInRange((byte)0x20, (byte)0x7E)
                ? Say($"“{System.Text.Encoding.ASCII.GetString(value[..Math.Min(value.Length, 4 * MostBytesShown)])}”")
                : Say(value.Length, $"{value.Length} byte: {Convert.ToHexString(value)}", $"{value.Length} bytes: {Convert.ToHexString(value[..Math.Min(value.Length, MostBytesShown)])}{(value.Length > MostBytesShown ? "…" : string.Empty)}");
        }

        private static string Hex(uint number, int digits) => number.ToString("X" + digits.ToString(CultureInfo.InvariantCulture), CultureInfo.InvariantCulture) + "h";

        /// <summary>A word of the standard's vocabulary, with a line of its own in the catalogue.</summary>
        private static Sentence Term(string words) => new(words, []);
    }
}
