using Diagnostics.Core.AsBuilt;

namespace Diagnostics.Core.Protocols.CanOpen;

/// <summary>
/// What an electronic data sheet (EDS) or a device configuration file (DCF) of CiA 306-1 says of a device, as far as the analysis uses it. Null = it
/// doesn't say; a vendor, product or revision of 0 says nothing either. <see cref="DataSheetReader"/> makes it.
/// </summary>
public sealed record DataSheet
{
    /// <summary>How messages call it: the name of the file.</summary>
    public required string Name { get; init; }

    /// <summary>The node that a DCF was made for, 1–127; null for an EDS, which holds for every device of its kind.</summary>
    public byte? Node { get; init; }

    public string? NodeName { get; init; }

    /// <summary>bit/s, from a DCF.</summary>
    public int? BitRate { get; init; }

    public string? VendorName { get; init; }

    public string? ProductName { get; init; }

    public string? OrderCode { get; init; }

    public uint? Vendor { get; init; }

    public uint? Product { get; init; }

    public uint? Revision { get; init; }

    /// <summary>1000h: profile in the lower word, kinds of input and output in the upper.</summary>
    public uint? DeviceType { get; init; }

    /// <summary>TPDO1–4.</summary>
    public required IReadOnlyList<SheetPdo> Transmit { get; init; }

    /// <summary>RPDO1–4.</summary>
    public required IReadOnlyList<SheetPdo> Receive { get; init; }

    internal SheetPdo Pdo(bool isTransmit, int number) => (isTransmit ? Transmit : Receive)[number - 1];
}

/// <summary>One PDO as a data sheet describes it; null = the sheet doesn't say.</summary>
/// <param name="CobId">Its identifier and the bits above it.</param>
/// <param name="Objects">What it carries, in order; empty = the device has no such PDO, or nothing in it.</param>
public sealed record SheetPdo(SheetCobId? CobId, IReadOnlyList<MappedObject>? Objects)
{
    /// <summary>Length of its frames, bytes; null where the sheet doesn't say what it carries.</summary>
    internal int? Bytes => Objects is null ? null : (Objects.Sum(mapped => mapped.Bits) + 7) / 8;
}

/// <summary>A COB-ID (11 bits of identifier, bit 29 = 29-bit identifier, bit 31 = PDO not used; CiA 301), to which the node's address may have to be added.</summary>
public readonly record struct SheetCobId(uint Value, bool AddsNode)
{
    internal uint Of(int node) => AddsNode ? unchecked(Value + (uint)node) : Value;
}
