using System.Text.Json;

namespace Diagnostics.Agent.Commands;

/// <summary>A setting as a person wrote it.</summary>
/// <param name="Name">Within its object.</param>
/// <param name="WholeName">As messages name it, board.supply.shuntOhms.</param>
/// <param name="Text">Of the file.</param>
/// <param name="NameOffset">Where the name stands in it.</param>
/// <param name="Offset">Where the value stands.</param>
/// <param name="Value">What was written, where it is no object.</param>
/// <param name="Object">What was written, where it is one.</param>
internal sealed record ConfigurationMember(string Name, string WholeName, ConfigurationText Text, long NameOffset, long Offset, JsonElement Value, ConfigurationObject? Object)
{
    /// <summary>Of the name: file, line and column.</summary>
    public string NamePlace => Text.PlaceOf(NameOffset);

    /// <summary>Of the value.</summary>
    public string Place => Text.PlaceOf(Offset);

    /// <summary>Whoever writes null sets nothing.</summary>
    public bool IsNull => Object is null && Value.ValueKind == JsonValueKind.Null;

    public SettingException Wrong(string why, string remedy) => new($"{WholeName} (from {Place})", why, remedy);
}
