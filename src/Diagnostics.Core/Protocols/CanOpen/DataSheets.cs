using Diagnostics.Core.AsBuilt;

namespace Diagnostics.Core.Protocols.CanOpen;

/// <summary>What was heard that tells which data sheets hold for a node; null = not heard.</summary>
/// <param name="Vendor">1018h sub 1.</param>
/// <param name="Product">1018h sub 2.</param>
/// <param name="Revision">1018h sub 3.</param>
/// <param name="DeviceType">1000h.</param>
/// <param name="Excluded">Sheets of kinds, one bit each, that the length of a PDO speaks against.</param>
internal readonly record struct HeardDevice(uint? Vendor, uint? Product, uint? Revision, uint? DeviceType, ulong Excluded);

/// <summary>What holds for a node: one sheet, or several that nothing tells apart, or none.</summary>
/// <param name="Sheet">The one.</param>
/// <param name="IsSure">It was made for this node, or the node's identity was heard, or the as-built record names the device; not only that nothing speaks against it.</param>
/// <param name="Candidates">The several, one bit each.</param>
internal readonly record struct SheetChoice(DataSheet? Sheet, bool IsSure, ulong Candidates)
{
    public bool IsAny => Sheet is not null || Candidates != 0;
}

/// <summary>
/// Which of the data sheets given holds for which node. In this order: the DCF made for it; the EDS of the product that the as-built record calls its type;
/// the EDS whose vendor and product were heard from it; the EDS that nothing heard speaks against, if it is the only one. Where several are left, what they
/// agree on is used and the rest isn't read. Vendor, product, profile and the length of PDOs speak against a sheet. Sheets never touch the mapping of a
/// node that has one in the as-built record, because that record says where a node differs from the default.
/// </summary>
internal sealed class DataSheets
{
    private readonly DataSheet?[] _ofNode = new DataSheet?[CanOpenLimits.HighestNode + 1];
    private readonly DataSheet?[] _ofType = new DataSheet?[CanOpenLimits.HighestNode + 1];
    private readonly bool[] _isRecorded = new bool[CanOpenLimits.HighestNode + 1];
    private readonly DataSheet[] _ofKinds;

    public DataSheets(IReadOnlyList<DataSheet> sheets, AsBuiltRecord? record)
    {
        _ofKinds = [.. sheets.Where(sheet => sheet.Node is null).Take(CanOpenLimits.DataSheetsOfKinds)];
        foreach (DataSheet sheet in sheets)
        {
            if (sheet.Node is byte node and >= 1 and <= CanOpenLimits.HighestNode)
            {
                _ofNode[node] = sheet;
            }
        }

        foreach (BuiltNode built in record?.Nodes ?? [])
        {
            if (built.Address is >= 1 and <= CanOpenLimits.HighestNode)
            {
                _isRecorded[built.Address] = built.PdoMapping.Count > 0;
                DataSheet[] named = [.. _ofKinds.Where(sheet => IsNamed(sheet, built.Type))];
                _ofType[built.Address] = named.Length == 1 ? named[0] : null;
            }
        }
    }

    public bool IsNone => _ofKinds.Length == 0 && !_ofNode.Any(sheet => sheet is not null);

    public IReadOnlyList<DataSheet> OfKinds => _ofKinds;

    public DataSheet? MadeFor(int node) => _ofNode[node];

    /// <summary>Something is known of the node before it is heard.</summary>
    public bool IsNamed(int node) => _ofNode[node] is not null || _ofType[node] is not null;

    public SheetChoice Choose(int node, in HeardDevice heard)
    {
        foreach (DataSheet? named in (ReadOnlySpan<DataSheet?>)[_ofNode[node], _ofType[node]])
        {
            if (named is not null && !IsContradicted(named, heard))
            {
                return new(named, true, 0);
            }
        }

        ulong fits = 0;
        ulong known = 0;
        ulong exact = 0;
        for (int i = 0; i < _ofKinds.Length; i++)
        {
            DataSheet sheet = _ofKinds[i];
            if (IsContradicted(sheet, heard))
            {
                continue;
            }

            ulong bit = 1UL << i;
            fits |= bit & ~heard.Excluded;
            if (sheet.Product is not null && sheet.Product == heard.Product && sheet.Vendor is not null && sheet.Vendor == heard.Vendor)
            {
                known |= bit;
                exact |= sheet.Revision is not null && sheet.Revision == heard.Revision ? bit : 0;
            }
        }

        ulong sure = exact != 0 ? exact : known;
        ulong left = sure & ~heard.Excluded;
        return sure == 0 ? Of(fits, isSure: false) : Of(left != 0 ? left : sure, isSure: true);
    }

    /// <summary>What is heard of the device says that it is another than the sheet describes.</summary>
    public static bool IsContradicted(DataSheet sheet, in HeardDevice heard) =>
        Differs(sheet.Vendor, heard.Vendor) || Differs(sheet.Product, heard.Product) || Differs((ushort?)sheet.DeviceType, (ushort?)heard.DeviceType);

    public SheetMapping Mapping(int node, in SheetChoice choice, bool isTransmit, int number)
    {
        if (_isRecorded[node])
        {
            return default;
        }

        DataSheet[] candidates = choice.Sheet is { } one ? [one] : [.. Kinds(choice.Candidates)];
        if (candidates.Length == 0)
        {
            return default;
        }

        IReadOnlyList<MappedObject>? first = Said(candidates[0], choice, node, isTransmit, number).Objects;
        foreach (DataSheet other in candidates.AsSpan(1))
        {
            IReadOnlyList<MappedObject>? objects = Said(other, choice, node, isTransmit, number).Objects;
            if (first is null ? objects is not null : objects is null || !first.SequenceEqual(objects))
            {
                return new(null, true, null);
            }
        }

        return new(first, false, candidates[0].DeviceType);
    }

    /// <summary>The sheets of kinds among those chosen which a PDO of this length speaks against, one bit each.</summary>
    public ulong Refuted(int node, in SheetChoice choice, bool isTransmit, int number, int bytes)
    {
        ulong refuted = 0;
        for (int i = 0; i < _ofKinds.Length; i++)
        {
            bool isChosen = choice.Sheet is null ? (choice.Candidates & (1UL << i)) != 0 : ReferenceEquals(_ofKinds[i], choice.Sheet);
            if (isChosen && IsRefuted(Said(_ofKinds[i], choice, node, isTransmit, number), isTransmit, bytes))
            {
                refuted |= 1UL << i;
            }
        }

        return refuted;
    }

    /// <summary>
    /// A TPDO has the length of its mapping (CiA 301). What is sent to a device may be longer than it needs, but not shorter, and to a PDO that it doesn't have
    /// nobody sends.
    /// </summary>
    public static bool IsRefuted(SheetPdo said, bool isTransmit, int bytes) =>
        said.Bytes is int needed && (isTransmit ? bytes != needed : needed == 0 || bytes < needed);

    public IEnumerable<DataSheet> Kinds(ulong mask)
    {
        for (int i = 0; i < _ofKinds.Length; i++)
        {
            if ((mask & (1UL << i)) != 0)
            {
                yield return _ofKinds[i];
            }
        }
    }

    /// <summary>
    /// A sheet that is only assumed moves no identifier, as all 127 nodes may be meant; where it has a PDO elsewhere, what comes on the predefined identifier
    /// isn't that PDO, and so it is none of this device.
    /// </summary>
    private static SheetPdo Said(DataSheet sheet, in SheetChoice choice, int node, bool isTransmit, int number)
    {
        SheetPdo pdo = sheet.Pdo(isTransmit, number);
        return !choice.IsSure && pdo.CobId is { } said && PdoRoutes.IsElsewhere(node, number, isTransmit, said) ? pdo with { Objects = [] } : pdo;
    }

    private static bool Differs(uint? said, uint? heard) => said is not null && heard is not null && said != heard;

    private static bool IsNamed(DataSheet sheet, string? type) =>
        type?.Trim() is { Length: > 0 } words
        && (words.Equals(sheet.ProductName, StringComparison.OrdinalIgnoreCase) || words.Equals(sheet.OrderCode, StringComparison.OrdinalIgnoreCase));

    private SheetChoice Of(ulong mask, bool isSure) =>
        mask != 0 && (mask & (mask - 1)) == 0 ? new(_ofKinds[System.Numerics.BitOperations.TrailingZeroCount(mask)], isSure, 0) : new(null, isSure && mask != 0, mask);
}
