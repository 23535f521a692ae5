namespace Diagnostics.Core.Protocols.CanOpen;

/// <summary>Whose frame an identifier is. Handles are 1..508 (node and PDO number), 0 = none.</summary>
internal struct PdoRoute
{
    public ushort Transmitter;
    public ushort Receiver;
    public byte EmergencyNode;

    /// <summary>The TPDO that a data sheet moved away from here.</summary>
    public ushort Left;
}

/// <summary>
/// Which PDO or emergency each of the 2048 base identifiers belongs to: the predefined connection set (reference values 7.1) until an SDO
/// transfer says otherwise. One identifier has one sender (the one configured last) and any number of receivers, as boards that switch each other
/// directly listen to the sender's identifier. The invalid bit ends receiving; of a sender it isn't judged, as a frame that is heard proves itself.
/// What was heard stays across restarts; whether the device stored it can't be seen. It beats what a data sheet says, and so does a frame on the
/// identifier that a TPDO was to have left.
/// </summary>
internal sealed class PdoRoutes
{
    private const uint ExtendedIdentifier = 1u << 29;
    private const uint Invalid = 1u << 31;
    private const ushort Nowhere = 0;
    private const int Handles = CanOpenLimits.HighestNode * CanOpenLimits.PdosPerDirection;

    private readonly PdoRoute[] _routes = new PdoRoute[2048];
    private readonly ushort[] _transmitIds = new ushort[Handles + 1];
    private readonly ushort[] _receiveIds = new ushort[Handles + 1];
    private readonly ushort[] _nextReceiver = new ushort[Handles + 1];
    private readonly bool[] _isTransmitHeard = new bool[Handles + 1];
    private readonly bool[] _isReceiveHeard = new bool[Handles + 1];
    private readonly SheetCobId?[] _transmitSheet = new SheetCobId?[Handles + 1];
    private readonly SheetCobId?[] _receiveSheet = new SheetCobId?[Handles + 1];
    private readonly ushort[] _emergencyIds = new ushort[CanOpenLimits.HighestNode + 1];

    public PdoRoutes()
    {
        for (int node = 1; node <= CanOpenLimits.HighestNode; node++)
        {
            for (int number = 1; number <= CanOpenLimits.PdosPerDirection; number++)
            {
                int handle = HandleOf(node, number);
                _transmitIds[handle] = PredefinedId(node, number, isTransmit: true);
                _receiveIds[handle] = PredefinedId(node, number, isTransmit: false);
                _routes[_transmitIds[handle]].Transmitter = (ushort)handle;
                _routes[_receiveIds[handle]].Receiver = (ushort)handle;
            }

            _emergencyIds[node] = (ushort)(0x80 + node);
            _routes[0x80 + node].EmergencyNode = (byte)node;
        }
    }

    public static int NodeOf(int handle) => ((handle - 1) >> 2) + 1;

    public static int NumberOf(int handle) => ((handle - 1) & 3) + 1;

    /// <summary><paramref name="id"/> ≤ 7FFh.</summary>
    public ref readonly PdoRoute this[uint id] => ref _routes[id & 0x7FF];

    public int NextReceiver(int handle) => _nextReceiver[handle];

    public static ushort PredefinedId(int node, int number, bool isTransmit) => (ushort)((number * 0x100) + (isTransmit ? 0x80 : 0x100) + node);

    /// <summary>
    /// Puts a PDO where a data sheet has it, or back where it is by default (null). A TPDO that isn't used keeps its identifier, as nothing is
    /// heard on it then.
    /// </summary>
    public void TakeSheet(int node, int number, bool isTransmit, SheetCobId? said)
    {
        int handle = HandleOf(node, number);
        (isTransmit ? _transmitSheet : _receiveSheet)[handle] = said;
        if ((isTransmit ? _isTransmitHeard : _isReceiveHeard)[handle])
        {
            return;
        }

        ushort predefined = PredefinedId(node, number, isTransmit);
        uint cobId = said?.Of(node) ?? predefined;
        bool isOff = (cobId & Invalid) != 0;
        if (isTransmit)
        {
            ushort id = isOff || !IsForPdos(cobId) ? predefined : (ushort)(cobId & 0x7FF);
            _routes[predefined].Left = (ushort)(id == predefined ? 0 : handle);
            if (id != _transmitIds[handle])
            {
                PutTransmitter(handle, id);
            }
        }
        else
        {
            PutReceiver(handle, isOff || IsForPdos(cobId) ? cobId : predefined);
        }
    }

    /// <summary>A frame on the identifier that a data sheet moved a TPDO away from, and that nobody else uses: the sheet isn't how the node is set.</summary>
    public void Return(int handle)
    {
        ushort predefined = PredefinedId(NodeOf(handle), NumberOf(handle), isTransmit: true);
        _routes[predefined].Left = 0;
        PutTransmitter(handle, predefined);
    }

    /// <summary>The data sheet has a PDO in use on another identifier than the predefined one.</summary>
    public static bool IsElsewhere(int node, int number, bool isTransmit, SheetCobId said)
    {
        uint cobId = said.Of(node);
        return (cobId & Invalid) == 0 && IsForPdos(cobId) && (cobId & 0x7FF) != PredefinedId(node, number, isTransmit);
    }

    /// <summary>The parameter was heard, and it isn't what the data sheet says.</summary>
    public bool OverrulesSheet(int node, int number, bool isTransmit)
    {
        int handle = HandleOf(node, number);
        if (!(isTransmit ? _isTransmitHeard : _isReceiveHeard)[handle] || (isTransmit ? _transmitSheet : _receiveSheet)[handle] is not { } said)
        {
            return false;
        }

        uint cobId = said.Of(node);
        bool isOff = (cobId & Invalid) != 0;
        return isOff
            ? !isTransmit && _receiveIds[handle] != Nowhere
            : IsForPdos(cobId) && (cobId & 0x7FF) != (isTransmit ? _transmitIds : _receiveIds)[handle];
    }

    public void MoveTransmit(int node, int number, uint cobId)
    {
        if (IsForPdos(cobId))
        {
            int handle = HandleOf(node, number);
            _isTransmitHeard[handle] = true;
            _routes[PredefinedId(node, number, isTransmit: true)].Left = 0;
            PutTransmitter(handle, cobId);
        }
    }

    public void MoveReceive(int node, int number, uint cobId)
    {
        if ((cobId & Invalid) != 0 || IsForPdos(cobId))
        {
            int handle = HandleOf(node, number);
            _isReceiveHeard[handle] = true;
            PutReceiver(handle, cobId);
        }
    }

    private void PutTransmitter(int handle, uint cobId)
    {
        ushort old = _transmitIds[handle];
        ushort id = (ushort)(cobId & 0x7FF);
        _transmitIds[handle] = id;
        _routes[id].Transmitter = (ushort)handle;
        if (old != id && _routes[old].Transmitter == handle)
        {
            _routes[old].Transmitter = (ushort)Math.Max(0, Array.IndexOf(_transmitIds, old));
        }
    }

    private void PutReceiver(int handle, uint cobId)
    {
        bool isOff = (cobId & Invalid) != 0;
        ushort old = _receiveIds[handle];
        ushort id = isOff ? Nowhere : (ushort)(cobId & 0x7FF);
        if (old == id)
        {
            return;
        }

        if (old != Nowhere)
        {
            ref ushort link = ref _routes[old].Receiver;
            while (link != handle)
            {
                link = ref _nextReceiver[link];
            }

            link = _nextReceiver[handle];
            _nextReceiver[handle] = 0;
        }

        if (id != Nowhere)
        {
            _nextReceiver[handle] = _routes[id].Receiver;
            _routes[id].Receiver = (ushort)handle;
        }

        _receiveIds[handle] = id;
    }

    public void MoveEmergency(int node, uint cobId)
    {
        uint id = cobId & 0x7FF;
        if ((cobId & ExtendedIdentifier) != 0 || !(id is > 0x80 and <= 0xFF || IsForPdos(cobId)))
        {
            return;
        }

        ushort old = _emergencyIds[node];
        _emergencyIds[node] = (ushort)id;
        _routes[id].EmergencyNode = (byte)node;
        if (old != id && _routes[old].EmergencyNode == node)
        {
            _routes[old].EmergencyNode = (byte)Math.Max(0, Array.IndexOf(_emergencyIds, old));
        }
    }

    private static int HandleOf(int node, int number) => ((node - 1) * CanOpenLimits.PdosPerDirection) + number;

    /// <summary>
    /// Identifiers that CiA 301 leaves to PDOs (from memory): the others stay with NMT, SYNC, EMCY, SDO, error control and LSS, so that a
    /// wrong entry can't take those away. 29-bit PDOs aren't followed.
    /// </summary>
    private static bool IsForPdos(uint cobId) =>
        (cobId & ExtendedIdentifier) == 0 && (cobId & 0x7FF) is (> 0x180 and < 0x580) or (>= 0x680 and < 0x6E0);
}
