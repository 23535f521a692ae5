using Diagnostics.Agent;
using Diagnostics.Agent.Commands;
using Diagnostics.Core.AsBuilt;

namespace Diagnostics.Tests.Commands;

public sealed class AsBuiltFileTests : IDisposable
{
    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("as-built");

    public void Dispose() => _directory.Delete(recursive: true);

    private AsBuiltRecord Read(string text)
    {
        string path = Path.Combine(_directory.FullName, "site.json");
        File.WriteAllText(path, text);
        return AsBuiltFile.Read(path, "site");
    }

    /// <summary>The example of the contract for the as-built record.</summary>
    [Fact]
    public void EverythingInTheContractsExampleIsRead()
    {
        AsBuiltRecord site = Read("""
            { "schema": 1, "site": "Wrenfield community library", "bitRate": 125000, "protocol": "canopen", "later": [1],
              "trunk": [ { "terminatorOhms": 120 }, { "node": 1, "metres": 0 }, { "node": 5, "metres": 12.5 }, { "clip": true, "metres": 2 }, { "node": 7, "metres": 8 }, { "terminatorOhms": 120 } ],
              "nodes": [ { "address": 5, "name": "workshop buttons", "type": "T", "serial": "S", "firmware": "2",
                 "inputs":  [ { "input": 1, "name": "door, upper", "kind": "push-button" } ],
                 "outputs": [ { "output": 1, "name": "bench lights", "kind": "relay", "switchedBy": [ { "node": 5, "input": 1, "press": "short" } ] } ],
                 "pdoMapping": { "TPDO2": [ "6200:01" ] } } ] }
            """);
        Assert.Equal("Wrenfield community library", site.Site);
        Assert.Equal(125_000, site.BitRate);
        Assert.Equal([new(null, 120, false, null), new(1, null, false, 0), new(5, null, false, 12.5), new(null, null, true, 2), new(7, null, false, 8), new(null, 120, false, null)], site.Trunk);
        BuiltNode node = Assert.Single(site.Nodes);
        Assert.Equal(new BuiltInput(1, "door, upper", InputKind.PushButton), Assert.Single(node.Inputs));
        BuiltOutput output = Assert.Single(node.Outputs);
        Assert.Equal(new SwitchedBy(5, 1, "short"), Assert.Single(output.SwitchedBy));
        Assert.Equal([new MappedObject(0x6200, 1)], node.PdoMapping["TPDO2"]);
    }

    [Fact]
    public void EveryMemberButTheSchemaMayBeMissing()
    {
        AsBuiltRecord site = Read("{ \"schema\": 1 }");
        Assert.Null(site.Site);
        Assert.Empty(site.Nodes);
    }

    [Theory]
    [InlineData("{ }", "schema")]
    [InlineData("{ \"schema\": 2 }", "schema")]
    [InlineData("{ \"schema\": 1, \"bitRate\": \"fast\" }", "at bitRate")]
    [InlineData("{ \"schema\": 1, \"nodes\": {} }", "at nodes")]
    [InlineData("{ \"schema\": 1, \"nodes\": [ 3 ] }", "at nodes[0]")]
    [InlineData("{ \"schema\": 1, \"nodes\": [ { \"name\": \"x\" } ] }", "it has no address")]
    [InlineData("{ \"schema\": 1, \"nodes\": [ { \"address\": 5 }, { \"address\": 5 } ] }", "listed 2 times")]
    [InlineData("{ \"schema\": 1, \"nodes\": [ { \"address\": 5, \"inputs\": [ { \"input\": 0 } ] } ] }", "at nodes[0].inputs[0].input")]
    [InlineData("{ \"schema\": 1, \"nodes\": [ { \"address\": 5, \"inputs\": [ { \"input\": 1, \"kind\": \"lever\" } ] } ] }", "'lever'")]
    [InlineData("{ \"schema\": 1, \"nodes\": [ { \"address\": 5, \"pdoMapping\": { \"TPDO2\": [ \"6200\" ] } } ] }", "at nodes[0].pdoMapping.TPDO2")]
    [InlineData("{ \"schema\": 1, \"trunk\": [ { \"node\": 1, \"clip\": true } ] }", "at trunk[0]")]
    [InlineData("{ \"schema\": 1, \"trunk\": [ { \"metres\": -1, \"node\": 1 } ] }", "at trunk[0].metres")]
    public void AWrongRecordIsRefusedWithThePlace(string text, string told) =>
        Assert.Contains(told, Assert.Throws<SettingException>(() => Read(text)).Message, StringComparison.Ordinal);
}
