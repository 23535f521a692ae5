namespace Diagnostics.Core.AsBuilt;

/// <summary>What the installer says was built: names, addresses, cable order. Every member may be missing.</summary>
public sealed record AsBuiltRecord
{
    public string? Site { get; init; }

    /// <summary>bit/s.</summary>
    public int? BitRate { get; init; }

    public string? Protocol { get; init; }

    /// <summary>In cable order.</summary>
    public IReadOnlyList<TrunkEntry> Trunk { get; init; } = [];

    public IReadOnlyList<BuiltNode> Nodes { get; init; } = [];
}

/// <summary>One thing on the trunk; exactly one of the first three is set. <paramref name="Metres"/> = cable from the entry before.</summary>
public sealed record TrunkEntry(int? Node, double? TerminatorOhms, bool Clip, double? Metres);

public sealed record BuiltNode
{
    public required int Address { get; init; }

    public string? Name { get; init; }

    public string? Type { get; init; }

    public string? Serial { get; init; }

    public string? Firmware { get; init; }

    public IReadOnlyList<BuiltInput> Inputs { get; init; } = [];

    public IReadOnlyList<BuiltOutput> Outputs { get; init; } = [];

    /// <summary>Name of the PDO (TPDO1 …) to what it carries, in order, where it isn't CiA 401's default.</summary>
    public IReadOnlyDictionary<string, IReadOnlyList<MappedObject>> PdoMapping { get; init; } = new Dictionary<string, IReadOnlyList<MappedObject>>();
}

/// <summary>push-button, switch, contact or motion.</summary>
public enum InputKind
{
    Unknown,
    PushButton,
    Switch,
    Contact,
    Motion,
}

public sealed record BuiltInput(int Input, string? Name, InputKind Kind);

public sealed record BuiltOutput(int Output, string? Name, string? Kind, IReadOnlyList<SwitchedBy> SwitchedBy);

public sealed record SwitchedBy(int Node, int Input, string? Press);

/// <summary>An object dictionary entry that a PDO carries, 8 bits unless a mapping heard says otherwise.</summary>
public readonly record struct MappedObject(ushort Index, byte SubIndex, byte Bits = 8);
