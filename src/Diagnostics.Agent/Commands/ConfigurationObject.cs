namespace Diagnostics.Agent.Commands;

/// <summary>An object that a person wrote into a file of settings.</summary>
/// <param name="Name">Its whole name, as board.supply; empty for the file itself.</param>
/// <param name="Text">Of the file.</param>
/// <param name="Offset">Where it begins in it.</param>
/// <param name="Members">In the order of the file; none twice.</param>
internal sealed record ConfigurationObject(string Name, ConfigurationText Text, long Offset, IReadOnlyList<ConfigurationMember> Members)
{
    /// <summary>Where it begins: file, line and column.</summary>
    public string Place => Text.PlaceOf(Offset);

    /// <exception cref="SettingException">A member has another name, which is probably a slip.</exception>
    public void RefuseUnknown(IReadOnlyCollection<string> known)
    {
        if (Members.FirstOrDefault(member => !known.Contains(member.Name)) is { } unknown)
        {
            string? nearest = Nearest.Of(unknown.Name, known);
            throw new SettingException(
                $"{unknown.WholeName} (from {unknown.NamePlace})",
                "there is no such setting",
                nearest is null ? $"the settings there are {string.Join(", ", known)}" : $"the nearest one is {nearest}");
        }
    }
}
