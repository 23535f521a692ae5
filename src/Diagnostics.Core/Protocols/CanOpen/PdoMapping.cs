using Diagnostics.Core.AsBuilt;

namespace Diagnostics.Core.Protocols.CanOpen;

/// <summary>Eight digital inputs or outputs within a PDO.</summary>
internal readonly record struct PdoField(byte BitOffset, byte SubIndex, bool IsOutput);

/// <summary>
/// What one PDO of one node carries. Best knowledge wins: a mapping heard completely through SDO, then the as-built record, then a data sheet
/// (<see cref="DataSheets"/>), then the default of CiA 401 (TPDO1 = 6000h sub 1..8, RPDO1 = 6200h sub 1..8).
/// <para>
/// The default is an assumption. It is made while the device type is unknown or says profile 401 with digital inputs (bit 16) for TPDO1, or digital
/// outputs (bit 17) for RPDO1, and as long as no mapping entry was heard that contradicts it. A device of another profile whose type and mapping
/// were never heard is therefore read as if it had digital inputs; the as-built record (an empty list) prevents that.
/// </para>
/// Objects other than 6000h and 6200h with 8 bits keep their place and are skipped.
/// </summary>
internal sealed class PdoMapping
{
    private const ushort InputObject = 0x6000;
    private const ushort OutputObject = 0x6200;
    private const ushort ProfileOfInputsAndOutputs = 401;
    private const uint HasDigitalInputs = 1u << 16;
    private const uint HasDigitalOutputs = 1u << 17;
    private const int CountUnknown = -1;

    private readonly bool _isTransmit;
    private readonly bool _hasDefault;
    private readonly PdoField[] _fields = new PdoField[CanOpenLimits.FieldsPerPdo];
    private readonly uint[] _heard = new uint[CanOpenLimits.MappedObjects];
    private IReadOnlyList<MappedObject>? _recorded;
    private SheetMapping _sheet;
    private ulong _heardMask;
    private int _heardCount = CountUnknown;
    private uint? _deviceType;
    private int _fieldCount;
    private ulong _lastPayload;
    private int _lastBits;
    private long _lastVersion;

    public PdoMapping(bool isTransmit, int number)
    {
        _isTransmit = isTransmit;
        _hasDefault = number == 1;
        Rebuild();
    }

    public ReadOnlySpan<PdoField> Fields => _fields.AsSpan(0, _fieldCount);

    /// <summary>Bits that the PDO must have; 0 while only the default is assumed, as that may end anywhere.</summary>
    public int RequiredBits { get; private set; }

    /// <summary>A data sheet decides what is read here, be it that nothing is.</summary>
    public bool IsBySheet { get; private set; }

    /// <summary>Nothing is read, because data sheets can't be believed about this PDO.</summary>
    public bool IsUndecided => IsBySheet && _sheet.IsUndecided;

    /// <summary>What was heard of the mapping isn't what the data sheet says. A count of 0 only begins a change.</summary>
    public bool OverrulesSheet => _sheet.Objects is { } said && _heardCount != 0 && !IsNotContradicted(said);

    private ushort DigitalObject => _isTransmit ? InputObject : OutputObject;

    public void TakeRecorded(IReadOnlyList<MappedObject> objects)
    {
        _recorded = objects;
        Rebuild();
    }

    /// <returns>Whether that changed anything.</returns>
    public bool TakeSheet(in SheetMapping sheet)
    {
        if (sheet == _sheet)
        {
            return false;
        }

        _sheet = sheet;
        Rebuild();
        return true;
    }

    public void TakeDeviceType(uint deviceType)
    {
        _deviceType = deviceType;
        Rebuild();
    }

    /// <summary>Sub 0: how many objects are mapped. 0 while the mapping is being changed; above 64 are the multiplexed PDOs, which aren't read.</summary>
    public void TakeCount(byte count)
    {
        _heardCount = count;
        Rebuild();
    }

    /// <summary>Sub 1..64: index in the upper 16 bits, then sub-index, then length in bits.</summary>
    public void TakeEntry(byte subIndex, uint entry)
    {
        if (subIndex is 0 or > CanOpenLimits.MappedObjects)
        {
            return;
        }

        _heard[subIndex - 1] = entry;
        _heardMask |= 1UL << (subIndex - 1);
        Rebuild();
    }

    /// <summary>The same payload as last time, and neither the mapping nor anything known of the node (<paramref name="version"/>) changed since.</summary>
    public bool IsRepeated(ulong payload, int bits, long version) => payload == _lastPayload && bits == _lastBits && version == _lastVersion;

    public void Remember(ulong payload, int bits, long version)
    {
        _lastPayload = payload;
        _lastBits = bits;
        _lastVersion = version;
    }

    private void Rebuild()
    {
        _lastBits = 0;
        _fieldCount = 0;
        RequiredBits = 0;
        IsBySheet = false;
        if (_heardCount is 0 or > CanOpenLimits.MappedObjects)
        {
            return;
        }

        int bits = 0;
        if (_heardCount > 0 && IsHeard(_heardCount))
        {
            for (int i = 0; i < _heardCount; i++)
            {
                uint entry = _heard[i];
                bits = Place(bits, (ushort)(entry >> 16), (byte)(entry >> 8), (byte)entry);
            }

            RequiredBits = bits;
        }
        else if (_recorded is not null)
        {
            foreach (MappedObject mapped in _recorded)
            {
                bits = Place(bits, mapped.Index, mapped.SubIndex, mapped.Bits);
            }

            RequiredBits = bits;
        }
        else if (_sheet.IsUndecided)
        {
            IsBySheet = true;
        }
        else if (_sheet.Objects is not null && IsNotContradicted(_sheet.Objects))
        {
            foreach (MappedObject mapped in _sheet.Objects)
            {
                bits = Place(bits, mapped.Index, mapped.SubIndex, mapped.Bits);
            }

            RequiredBits = bits;
            IsBySheet = true;
        }
        else if (_sheet.Objects is null && _hasDefault && IsDefaultPlausible())
        {
            for (byte i = 1; i <= CanOpenLimits.FieldsPerPdo; i++)
            {
                bits = Place(bits, DigitalObject, i, 8);
            }
        }
    }

    private bool IsHeard(int count)
    {
        ulong needed = count == 64 ? ulong.MaxValue : (1UL << count) - 1;
        return (_heardMask & needed) == needed;
    }

    private static uint EntryOf(MappedObject mapped) => ((uint)mapped.Index << 16) | ((uint)mapped.SubIndex << 8) | mapped.Bits;

    /// <summary>What was heard of the mapping, if not the whole of it, agrees.</summary>
    private bool IsNotContradicted(IReadOnlyList<MappedObject> objects)
    {
        if (_heardCount != CountUnknown && _heardCount != objects.Count)
        {
            return false;
        }

        for (int i = 0; i < objects.Count; i++)
        {
            if ((_heardMask & (1UL << i)) != 0 && _heard[i] != EntryOf(objects[i]))
            {
                return false;
            }
        }

        return true;
    }

    private bool IsDefaultPlausible()
    {
        if ((_deviceType ?? _sheet.DeviceType) is uint type)
        {
            uint kind = _isTransmit ? HasDigitalInputs : HasDigitalOutputs;
            if ((ushort)type != ProfileOfInputsAndOutputs || (type & kind) == 0)
            {
                return false;
            }
        }

        int known = _heardCount == CountUnknown ? CanOpenLimits.FieldsPerPdo : Math.Min(_heardCount, CanOpenLimits.FieldsPerPdo);
        for (int i = 0; i < known; i++)
        {
            uint expected = ((uint)DigitalObject << 16) | ((uint)(i + 1) << 8) | 8;
            if ((_heardMask & (1UL << i)) != 0 && _heard[i] != expected)
            {
                return false;
            }
        }

        return true;
    }

    private int Place(int offset, ushort index, byte subIndex, byte bits)
    {
        bool isOutput = index == OutputObject;
        bool isRead = (isOutput || (index == InputObject && _isTransmit)) && bits == 8
            && subIndex is >= 1 and <= CanOpenLimits.HighestSubIndex;
        if (isRead && offset + 8 <= 64 && _fieldCount < _fields.Length)
        {
            _fields[_fieldCount++] = new((byte)offset, subIndex, isOutput);
        }

        return offset + bits;
    }
}
