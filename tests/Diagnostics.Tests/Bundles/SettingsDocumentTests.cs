using System.Text.Json;
using Diagnostics.Agent;
using Diagnostics.Agent.Bundles;

namespace Diagnostics.Tests.Bundles;

public class SettingsDocumentTests
{
    /// <summary>Whoever adds a setting decides here whether a stranger may read it: names that go out, and those that stay.</summary>
    [Fact]
    public void OnlyNamedSettingsGoOut()
    {
        string[] goOut = ["Interfaces", "BitRate", "Protocol", "Port", "LogMegabytes", "InputDays", "Language"];
        string[] stay = ["Site", "SiteText", "FileRemarks", "DataSheets", "LogDirectory", "Access", "Board"];
        Assert.Equal(goOut.Concat(stay).Order(StringComparer.Ordinal), typeof(AgentSettings).GetProperties().Select(property => property.Name).Where(name => name != "EqualityContract").Order(StringComparer.Ordinal));

        byte[] bytes = SettingsDocument.ToUtf8(new() { Interfaces = ["can0"], BitRate = 125_000, LogDirectory = "/home/somebody/log" });
        using JsonDocument document = JsonDocument.Parse(bytes);
        Assert.Equal(
            goOut.Append("Schema").Select(JsonNamingPolicy.CamelCase.ConvertName).Order(StringComparer.Ordinal),
            document.RootElement.EnumerateObject().Select(member => member.Name).Order(StringComparer.Ordinal));
        Assert.Equal(125_000, document.RootElement.GetProperty("bitRate").GetInt32());
        Assert.Equal(JsonValueKind.Null, JsonDocument.Parse(SettingsDocument.ToUtf8(new())).RootElement.GetProperty("bitRate").ValueKind);
    }
}
