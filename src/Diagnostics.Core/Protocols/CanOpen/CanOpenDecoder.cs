using System.Buffers.Binary;
using System.Numerics;
using Diagnostics.Can;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Wording;

namespace Diagnostics.Core.Protocols.CanOpen;

/// <summary>
/// Turns frames of one bus into CANopen events. Never throws, whatever the frame; allocates once for each node that is first heard with a PDO or SDO.
/// Identifiers by function code (upper 4 of the 11 bits) and node (lower 7), reference values 7.1, with PDO and EMCY identifiers followed where
/// an SDO transfer moved them, or where a data sheet has them.
/// <code>
/// 000 NMT   080 SYNC   081..0FF EMCY   100 TIME   181..57F PDOs   581..5FF SDO answer   601..67F SDO request   701..77F error control   7E4/7E5 LSS
/// </code>
/// </summary>
internal sealed class CanOpenDecoder
{
    private const uint LssAnswerId = 0x7E4;
    private const uint LssRequestId = 0x7E5;
    private const ushort InputObject = 0x6000;
    private const ushort OutputObject = 0x6200;
    private const byte ToggleBit = 0x80;

    private readonly ICanOpenEvents _events;
    private readonly PdoRoutes _routes = new();
    private readonly DecodedNode?[] _nodes = new DecodedNode?[CanOpenLimits.HighestNode + 1];
    private readonly Instant[] _guardAsked = new Instant[CanOpenLimits.HighestNode + 1];
    private readonly DataSheets _sheets;

    public CanOpenDecoder(ICanOpenEvents events, AsBuiltRecord? record = null, IReadOnlyList<DataSheet>? sheets = null)
    {
        _events = events;
        _sheets = new(sheets ?? [], record);
        Array.Fill(_guardAsked, Instant.MinValue);
        foreach (BuiltNode built in record?.Nodes ?? [])
        {
            if (built.Address is >= 1 and <= CanOpenLimits.HighestNode)
            {
                TakeRecorded(built);
            }
        }

        // Where a PDO was moved to must be known before it comes.
        for (int node = 1; node <= CanOpenLimits.HighestNode; node++)
        {
            if (_sheets.IsNamed(node))
            {
                Node(node);
            }
        }
    }

    /// <summary>The node that sends PDOs or emergencies on this base identifier; 0 = none.</summary>
    public byte SenderOf(uint id)
    {
        ref readonly PdoRoute route = ref _routes[id];
        int transmitter = route.Transmitter != 0 ? route.Transmitter : route.Left;
        return transmitter != 0 ? (byte)PdoRoutes.NodeOf(transmitter) : route.EmergencyNode;
    }

    /// <summary>The data sheet that surely describes the node, if there is one.</summary>
    public DataSheet? SheetOf(int node) => _nodes[node] is { Choice: { IsSure: true } choice } ? choice.Sheet : null;

    /// <summary>What the data sheets have to do with what was heard, as whole sentences.</summary>
    public IReadOnlyList<Sentence> SheetRemarks(SiteNames names)
    {
        if (_sheets.IsNone)
        {
            return [];
        }

        DataSheetRemarks remarks = new(_sheets, names);
        for (int node = 1; node <= CanOpenLimits.HighestNode; node++)
        {
            if (_nodes[node] is { } decoded)
            {
                remarks.Add(node, decoded.Heard, decoded.Choice, decoded.IsUnread, decoded.IsPdoHeard);
                for (int slot = 0; slot < 2 * CanOpenLimits.PdosPerDirection; slot++)
                {
                    bool isTransmit = slot < CanOpenLimits.PdosPerDirection;
                    int pdo = slot % CanOpenLimits.PdosPerDirection;
                    bool isOverruled = (isTransmit ? decoded.Transmit : decoded.Receive)[pdo].OverrulesSheet || _routes.OverrulesSheet(node, pdo + 1, isTransmit);
                    remarks.AddPdo(node, decoded.Choice, isTransmit, pdo + 1, isOverruled, decoded.Refuted[slot]);
                }
            }
        }

        return remarks.ToSentences();
    }

    public DecodeOutcome Decode(in CanFrame frame)
    {
        if ((frame.Flags & (FrameFlags.Error | FrameFlags.Flexible | FrameFlags.Remote)) != 0 || frame.Id.IsExtended)
        {
            return frame.IsRemote && !frame.IsError && !frame.Id.IsExtended ? DecodeRemote(frame) : DecodeOutcome.NotCanOpen;
        }

        uint id = frame.Id.Value;
        ref readonly PdoRoute route = ref _routes[id];
        if ((route.Transmitter | route.Receiver | route.EmergencyNode | route.Left) != 0)
        {
            if (route.Left != 0 && (route.Transmitter | route.EmergencyNode) == 0)
            {
                ReturnToPredefined(route.Left);
            }

            return route.EmergencyNode != 0 ? DecodeEmergency(frame, route.EmergencyNode) : DecodePdo(frame, route);
        }

        byte node = (byte)(id & 0x7F);
        switch (id >> 7)
        {
            case 0 when node == 0:
                return DecodeNetworkCommand(frame);
            case 1 when node == 0:
                if (frame.Length > 1)
                {
                    return DecodeOutcome.SyncWrongLength;
                }

                _events.OnSync(frame.Time);
                return DecodeOutcome.Understood;
            case 2 when node == 0:
                if (frame.Length < 6)
                {
                    return DecodeOutcome.TimeTooShort;
                }

                _events.OnTime(frame.Time);
                return DecodeOutcome.Understood;
            case 11 when node != 0:
                return DecodeSdo(frame, node, isRequest: false);
            case 12 when node != 0:
                return DecodeSdo(frame, node, isRequest: true);
            case 14 when node != 0:
                return DecodeErrorControl(frame, node);
            case 15 when id is LssAnswerId or LssRequestId:
                if (frame.Length == 0)
                {
                    return DecodeOutcome.LssEmpty;
                }

                _events.OnLss(frame.Time, id == LssRequestId, Classic(frame));
                return DecodeOutcome.Understood;
            default:
                return DecodeOutcome.NotCanOpen;
        }
    }

    /// <summary>At most 8 bytes, even of a frame whose length field was filled wrongly.</summary>
    private static ReadOnlySpan<byte> Classic(in CanFrame frame) => ((ReadOnlySpan<byte>)frame.Data)[..Math.Min((int)frame.Length, 8)];

    private DecodedNode Node(int node)
    {
        if (_nodes[node] is { } known)
        {
            return known;
        }

        DecodedNode made = new();
        _nodes[node] = made;
        ChooseSheet(node, made);
        return made;
    }

    private void ChooseSheet(int node, DecodedNode decoded)
    {
        SheetChoice choice = _sheets.Choose(node, decoded.Heard);
        if (choice == decoded.Choice)
        {
            return;
        }

        bool movesIdentifiers = choice is { IsSure: true, Sheet: not null } || decoded.Choice is { IsSure: true, Sheet: not null };
        decoded.Choice = choice;
        decoded.IsUnread = false;
        Array.Clear(decoded.Refuted);
        Array.Clear(decoded.LengthHeard);
        bool isNew = false;
        for (int number = 1; number <= CanOpenLimits.PdosPerDirection; number++)
        {
            isNew |= decoded.Transmit[number - 1].TakeSheet(_sheets.Mapping(node, choice, isTransmit: true, number));
            isNew |= decoded.Receive[number - 1].TakeSheet(_sheets.Mapping(node, choice, isTransmit: false, number));
            if (movesIdentifiers)
            {
                DataSheet? sure = choice.IsSure ? choice.Sheet : null;
                _routes.TakeSheet(node, number, isTransmit: true, sure?.Pdo(isTransmit: true, number).CobId);
                _routes.TakeSheet(node, number, isTransmit: false, sure?.Pdo(isTransmit: false, number).CobId);
            }
        }

        if (isNew)
        {
            // What was read by another sheet is no state that anything could have changed from.
            decoded.Forget();
        }
    }

    /// <summary>The node still sends where its data sheet no longer has it: it isn't set as the sheet says.</summary>
    private void ReturnToPredefined(int handle)
    {
        DecodedNode decoded = Node(PdoRoutes.NodeOf(handle));
        int number = PdoRoutes.NumberOf(handle);
        _routes.Return(handle);
        Disbelieve(decoded, isTransmit: true, number, DecodedNode.OldIdentifier);
    }

    private static void Disbelieve(DecodedNode decoded, bool isTransmit, int number, byte why)
    {
        decoded.Refuted[DecodedNode.Slot(isTransmit, number)] = why;
        (isTransmit ? decoded.Transmit : decoded.Receive)[number - 1].TakeSheet(new(null, true, null));
    }

    /// <summary>A PDO came with another length than the one before: it may speak against the data sheet that it is read by.</summary>
    private void JudgeLength(byte node, DecodedNode decoded, bool isTransmit, int number, byte bytes)
    {
        PdoMapping mapping = (isTransmit ? decoded.Transmit : decoded.Receive)[number - 1];
        int slot = DecodedNode.Slot(isTransmit, number);
        while (decoded.LengthHeard[slot] != bytes)
        {
            decoded.LengthHeard[slot] = bytes;
            if (!mapping.IsBySheet || decoded.Refuted[slot] != 0)
            {
                return;
            }

            if (decoded.Choice is { IsSure: true, Sheet: { } sure })
            {
                // Other devices may send to a PDO that this one doesn't have; that says nothing about it.
                if (DataSheets.IsRefuted(sure.Pdo(isTransmit, number), isTransmit, bytes) && (isTransmit || sure.Pdo(isTransmit, number).Bytes != 0))
                {
                    Disbelieve(decoded, isTransmit, number, bytes);
                }

                return;
            }

            ulong refuted = _sheets.Refuted(node, decoded.Choice, isTransmit, number, bytes);
            decoded.Heard = decoded.Heard with { Excluded = decoded.Heard.Excluded | refuted };
            ChooseSheet(node, decoded);
            decoded.IsUnread |= decoded.Choice.Sheet is null && decoded.Choice.IsAny && mapping.IsUndecided;
        }
    }

    private void TakeRecorded(BuiltNode built)
    {
        foreach ((string name, IReadOnlyList<MappedObject> objects) in built.PdoMapping)
        {
            if (name.Length == 5 && name[4] is >= '1' and <= '4' && name.AsSpan(1, 3) is "PDO" && name[0] is 'T' or 'R')
            {
                DecodedNode node = Node(built.Address);
                (name[0] == 'T' ? node.Transmit : node.Receive)[name[4] - '1'].TakeRecorded(objects);
            }
        }
    }

    private DecodeOutcome DecodeRemote(in CanFrame frame)
    {
        uint id = frame.Id.Value;
        if (id >> 7 == 14 && (id & 0x7F) != 0)
        {
            byte node = (byte)(id & 0x7F);
            _guardAsked[node] = frame.Time;
            _events.OnGuardRequest(frame.Time, node);
            return DecodeOutcome.Understood;
        }

        // A remote frame may ask for a TPDO: a proper request, though nothing that the node sent.
        return _routes[id].Transmitter != 0 ? DecodeOutcome.Understood : DecodeOutcome.NotCanOpen;
    }

    private DecodeOutcome DecodeNetworkCommand(in CanFrame frame)
    {
        if (frame.Length != 2)
        {
            return DecodeOutcome.NmtWrongLength;
        }

        NmtCommand command = (NmtCommand)frame.Data[0];
        if (command is not (NmtCommand.Start or NmtCommand.Stop or NmtCommand.EnterPreOperational or NmtCommand.ResetNode or NmtCommand.ResetCommunication))
        {
            return DecodeOutcome.UnknownNmtCommand;
        }

        byte node = frame.Data[1];
        if (node > CanOpenLimits.HighestNode)
        {
            return DecodeOutcome.NmtAddressOutOfRange;
        }

        _events.OnNetworkCommand(frame.Time, command, node);
        return DecodeOutcome.Understood;
    }

    private DecodeOutcome DecodeEmergency(in CanFrame frame, byte node)
    {
        if (frame.Length < 3)
        {
            return DecodeOutcome.EmergencyTooShort;
        }

        ReadOnlySpan<byte> data = Classic(frame);
        _events.OnEmergency(frame.Time, node, BinaryPrimitives.ReadUInt16LittleEndian(data), data[2], data[3..]);
        return DecodeOutcome.Understood;
    }

    private DecodeOutcome DecodeErrorControl(in CanFrame frame, byte node)
    {
        if (frame.Length == 0)
        {
            return DecodeOutcome.ErrorControlEmpty;
        }

        byte value = frame.Data[0];
        if (value == 0 && frame.Length == 1)
        {
            _guardAsked[node] = Instant.MinValue;
            _events.OnBootUp(frame.Time, node);
            return DecodeOutcome.Understood;
        }

        NodeState state = (NodeState)(value & ~ToggleBit);
        if (state is not (NodeState.Stopped or NodeState.Operational or NodeState.PreOperational))
        {
            return DecodeOutcome.UnknownState;
        }

        // Only an answer to guarding may set the toggle bit, so it is one even when the request wasn't heard.
        Instant asked = _guardAsked[node];
        bool isGuardAnswer = (value & ToggleBit) != 0
            || (asked != Instant.MinValue && frame.Time >= asked && frame.Time <= asked + CanOpenLimits.GuardAnswer);
        _guardAsked[node] = Instant.MinValue;
        _events.OnErrorControl(frame.Time, node, state, isGuardAnswer);
        return DecodeOutcome.Understood;
    }

    private DecodeOutcome DecodePdo(in CanFrame frame, in PdoRoute route)
    {
        DecodeOutcome outcome = DecodeOutcome.Understood;
        if (route.Transmitter != 0)
        {
            outcome = DecodeOnePdo(frame, route.Transmitter, isTransmit: true);
        }

        for (int handle = route.Receiver; handle != 0; handle = _routes.NextReceiver(handle))
        {
            DecodeOutcome received = DecodeOnePdo(frame, handle, isTransmit: false);
            outcome = received == DecodeOutcome.Understood ? outcome : received;
        }

        return outcome;
    }

    private DecodeOutcome DecodeOnePdo(in CanFrame frame, int handle, bool isTransmit)
    {
        byte node = (byte)PdoRoutes.NodeOf(handle);
        int number = PdoRoutes.NumberOf(handle);
        DecodedNode decoded = Node(node);
        decoded.IsPdoHeard = true;
        _events.OnPdo(frame.Time, node, number, isTransmit);
        PdoMapping mapping = (isTransmit ? decoded.Transmit : decoded.Receive)[number - 1];
        int bits = Math.Min((int)frame.Length, 8) * 8;
        if (bits != 0 && decoded.Choice.IsAny)
        {
            JudgeLength(node, decoded, isTransmit, number, (byte)(bits / 8));
        }

        if (bits == 0 || bits < mapping.RequiredBits)
        {
            return DecodeOutcome.PdoTooShort;
        }

        // Most PDOs repeat what is known already.
        ulong payload = frame.FirstEight;
        if (mapping.IsRepeated(payload, bits, decoded.Version))
        {
            return DecodeOutcome.Understood;
        }

        foreach (PdoField field in mapping.Fields)
        {
            if (field.BitOffset + 8 > bits)
            {
                break;
            }

            byte value = (byte)(payload >> field.BitOffset);
            if (!field.IsOutput)
            {
                TellInputs(frame.Time, node, decoded, field.SubIndex, value);
            }
            else if (isTransmit)
            {
                TellReports(frame.Time, node, decoded, field.SubIndex, value);
            }
            else
            {
                TellCommands(frame.Time, node, decoded, field.SubIndex, value);
            }
        }

        mapping.Remember(payload, bits, decoded.Version);
        return DecodeOutcome.Understood;
    }

    private void TellInputs(Instant time, byte node, DecodedNode decoded, byte subIndex, byte value)
    {
        for (uint changed = decoded.Change(decoded.Inputs, subIndex, value, out bool isFirst); changed != 0; changed &= changed - 1)
        {
            int bit = BitOperations.TrailingZeroCount(changed);
            _events.OnInput(time, node, (8 * (subIndex - 1)) + bit + 1, (value & (1 << bit)) != 0, isFirst);
        }
    }

    private void TellReports(Instant time, byte node, DecodedNode decoded, byte subIndex, byte value)
    {
        for (uint changed = decoded.Change(decoded.Reports, subIndex, value, out bool isFirst); changed != 0; changed &= changed - 1)
        {
            int bit = BitOperations.TrailingZeroCount(changed);
            _events.OnOutputReport(time, node, (8 * (subIndex - 1)) + bit + 1, (value & (1 << bit)) != 0, isFirst);
        }
    }

    private void TellCommands(Instant time, byte node, DecodedNode decoded, byte subIndex, byte value)
    {
        for (uint changed = decoded.Change(decoded.Commands, subIndex, value, out bool isFirst); changed != 0; changed &= changed - 1)
        {
            int bit = BitOperations.TrailingZeroCount(changed);
            _events.OnOutputCommand(time, node, (8 * (subIndex - 1)) + bit + 1, (value & (1 << bit)) != 0, isFirst);
        }
    }

    private DecodeOutcome DecodeSdo(in CanFrame frame, byte node, bool isRequest)
    {
        ReadOnlySpan<byte> data = Classic(frame);
        SdoConversation sdo = Node(node).Sdo;
        DecodeOutcome outcome;
        SdoEnd end;
        if (isRequest)
        {
            _events.OnSdoRequest(frame.Time, node, data);
            outcome = sdo.Request(frame.Time, data, out end);
        }
        else
        {
            _events.OnSdoAnswer(frame.Time, node, data);
            outcome = sdo.Answer(frame.Time, data, out end);
        }

        if (end == SdoEnd.Abort)
        {
            _events.OnSdoAbort(frame.Time, node, sdo.Index, sdo.SubIndex, sdo.AbortCode, byServer: !isRequest);
        }
        else if (end == SdoEnd.Value)
        {
            TakeValue(frame.Time, node, sdo);
        }

        return outcome;
    }

    /// <summary>What an object holds changes how later frames are read, then goes out as an event.</summary>
    private void TakeValue(Instant time, byte node, SdoConversation sdo)
    {
        ushort index = sdo.Index;
        byte subIndex = sdo.SubIndex;
        ReadOnlySpan<byte> value = sdo.Value;
        DecodedNode decoded = Node(node);
        uint number = 0;
        for (int i = 0; i < Math.Min(value.Length, 4); i++)
        {
            number |= (uint)value[i] << (8 * i);
        }

        // A PDO's parameters: 1400h receive, 1600h receive mapping, 1800h transmit, 1A00h transmit mapping, each + (number - 1).
        int pdo = index & 0x1FF;
        if (!value.IsEmpty && pdo < CanOpenLimits.PdosPerDirection && index is >= 0x1400 and < 0x1C00)
        {
            bool isTransmit = index >= 0x1800;
            PdoMapping mapping = (isTransmit ? decoded.Transmit : decoded.Receive)[pdo];
            switch (index & 0x200, subIndex)
            {
                case (0, 1) when value.Length >= 4 && isTransmit:
                    _routes.MoveTransmit(node, pdo + 1, number);
                    break;
                case (0, 1) when value.Length >= 4:
                    _routes.MoveReceive(node, pdo + 1, number);
                    break;
                case (0x200, 0):
                    mapping.TakeCount((byte)number);
                    break;
                case (0x200, _) when value.Length >= 4:
                    mapping.TakeEntry(subIndex, number);
                    break;
            }
        }

        switch (index)
        {
            case 0x1000 when subIndex == 0 && value.Length >= 4 && !sdo.IsWrite:
                decoded.Transmit[0].TakeDeviceType(number);
                decoded.Receive[0].TakeDeviceType(number);
                decoded.Heard = decoded.Heard with { DeviceType = number };
                ChooseSheet(node, decoded);
                break;
            case 0x1018 when subIndex is >= 1 and <= 3 && value.Length >= 4 && !sdo.IsWrite:
                decoded.Heard = subIndex switch
                {
                    1 => decoded.Heard with { Vendor = number },
                    2 => decoded.Heard with { Product = number },
                    _ => decoded.Heard with { Revision = number },
                };
                ChooseSheet(node, decoded);
                break;
            case 0x1014 when subIndex == 0 && value.Length >= 4:
                _routes.MoveEmergency(node, number);
                break;
        }

        _events.OnObjectValue(time, node, index, subIndex, value, sdo.IsWrite);

        // Both objects are one byte; a server that gives no size sends four.
        if (!value.IsEmpty && subIndex is >= 1 and <= CanOpenLimits.HighestSubIndex)
        {
            switch (index)
            {
                case InputObject when !sdo.IsWrite:
                    TellInputs(time, node, decoded, subIndex, value[0]);
                    break;
                case OutputObject when sdo.IsWrite:
                    TellCommands(time, node, decoded, subIndex, value[0]);
                    break;
                case OutputObject:
                    TellReports(time, node, decoded, subIndex, value[0]);
                    break;
            }
        }
    }

    /// <summary>What the decoder remembers of one node: about 4 kB, so half a megabyte for a full bus.</summary>
    private sealed class DecodedNode
    {
        private const short Unknown = -1;

        public readonly SdoConversation Sdo = new();
        public readonly PdoMapping[] Transmit = new PdoMapping[CanOpenLimits.PdosPerDirection];
        public readonly PdoMapping[] Receive = new PdoMapping[CanOpenLimits.PdosPerDirection];
        public readonly short[] Inputs = new short[CanOpenLimits.HighestSubIndex + 1];
        public readonly short[] Reports = new short[CanOpenLimits.HighestSubIndex + 1];
        public readonly short[] Commands = new short[CanOpenLimits.HighestSubIndex + 1];

        /// <summary>Why a data sheet isn't believed about a PDO, when it isn't its length in bytes, 1–8.</summary>
        public const byte OldIdentifier = byte.MaxValue;

        /// <summary>Of TPDO1–4, then RPDO1–4: what speaks against the one sheet that surely holds; 0 = nothing.</summary>
        public readonly byte[] Refuted = new byte[2 * CanOpenLimits.PdosPerDirection];

        /// <summary>In the same order, bytes of the latest frame since the sheet was chosen; 0 = none.</summary>
        public readonly byte[] LengthHeard = new byte[2 * CanOpenLimits.PdosPerDirection];

        public SheetChoice Choice { get; set; }

        public HeardDevice Heard { get; set; }

        public bool IsPdoHeard { get; set; }

        /// <summary>A PDO came that the data sheets left for this node contradict each other about.</summary>
        public bool IsUnread { get; set; }

        public static int Slot(bool isTransmit, int number) => number - 1 + (isTransmit ? 0 : CanOpenLimits.PdosPerDirection);

        /// <summary>Counts every change to the three states above, so that a repeated PDO needn't be compared with them.</summary>
        public long Version { get; private set; }

        public DecodedNode()
        {
            for (int i = 0; i < CanOpenLimits.PdosPerDirection; i++)
            {
                Transmit[i] = new(isTransmit: true, i + 1);
                Receive[i] = new(isTransmit: false, i + 1);
            }

            Forget();
        }

        /// <summary>Whatever comes next of inputs and outputs is known for the first time.</summary>
        public void Forget()
        {
            Array.Fill(Inputs, Unknown);
            Array.Fill(Reports, Unknown);
            Array.Fill(Commands, Unknown);
            Version++;
        }

        /// <summary>Bits of a group of eight that differ from what was known, all of them when nothing was.</summary>
        public uint Change(short[] known, byte subIndex, byte value, out bool isFirst)
        {
            short before = known[subIndex];
            known[subIndex] = value;
            Version++;
            isFirst = before == Unknown;
            return isFirst ? 0xFFu : (uint)(before ^ value);
        }
    }
}
