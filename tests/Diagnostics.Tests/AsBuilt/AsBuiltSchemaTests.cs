using System.Text;
using System.Text.Json.Nodes;
using Diagnostics.Core.AsBuilt;

namespace Diagnostics.Tests.AsBuilt;

/// <summary>The published schema says what the reader does, as far as a schema can.</summary>
public class AsBuiltSchemaTests
{
    [Theory]
    [InlineData(AsBuiltReaderTests.Example)]
    [InlineData("""{"schema":1}""")]
    [InlineData("""{"schema":1,"later":{"x":1},"nodes":[{"address":1,"rack":2}]}""")]
    [InlineData("""{"schema":1,"site":null,"bitRate":null,"trunk":[{"clip":true,"node":null}],"nodes":null}""")]
    [InlineData("""{"schema":1,"nodes":[{"address":1,"inputs":[{"input":2032,"kind":null}],"pdoMapping":{"RPDO4":["6200:fE"]}}]}""")]
    public void GoodRecordsPassSchemaAndReader(string json)
    {
        Assert.True(PublishedSchemas.AsBuilt.Accepts(JsonNode.Parse(json)));
        Assert.True(AsBuiltReader.TryRead(Encoding.UTF8.GetBytes(json), out _, out AsBuiltError? error), error?.ToString());
    }

    [Fact]
    public void TheSampleThatIsInstalledPassesSchemaAndReaderWithoutRemarks()
    {
        byte[] sample = File.ReadAllBytes(Path.Combine(AppContext.BaseDirectory, "../../../../../systemd/site.sample.json"));
        Assert.True(PublishedSchemas.AsBuilt.Accepts(JsonNode.Parse(sample)));
        Assert.True(AsBuiltReader.TryRead(sample, out _, out AsBuiltError? error, out IReadOnlyList<AsBuiltRemark> remarks), error?.ToString());
        Assert.Empty(remarks);
    }

    [Theory]
    [InlineData("""{}""")]
    [InlineData("""[]""")]
    [InlineData("""{"schema":2}""")]
    [InlineData("""{"schema":1,"site":5}""")]
    [InlineData("""{"schema":1,"bitRate":4999}""")]
    [InlineData("""{"schema":1,"bitRate":"fast"}""")]
    [InlineData("""{"schema":1,"trunk":{}}""")]
    [InlineData("""{"schema":1,"trunk":[{"metres":1}]}""")]
    [InlineData("""{"schema":1,"trunk":[{"node":1,"clip":true}]}""")]
    [InlineData("""{"schema":1,"trunk":[{"node":1,"metres":-1}]}""")]
    [InlineData("""{"schema":1,"trunk":[{"terminatorOhms":0}]}""")]
    [InlineData("""{"schema":1,"nodes":[{}]}""")]
    [InlineData("""{"schema":1,"nodes":[{"address":128}]}""")]
    [InlineData("""{"schema":1,"nodes":[{"address":5,"inputs":[{"input":0}]}]}""")]
    [InlineData("""{"schema":1,"nodes":[{"address":5,"inputs":[{"input":1,"kind":"button"}]}]}""")]
    [InlineData("""{"schema":1,"nodes":[{"address":5,"outputs":[{"output":1,"kind":"lamp"}]}]}""")]
    [InlineData("""{"schema":1,"nodes":[{"address":5,"outputs":[{"output":1,"switchedBy":[{"node":1}]}]}]}""")]
    [InlineData("""{"schema":1,"nodes":[{"address":5,"pdoMapping":{"TPDO5":[]}}]}""")]
    [InlineData("""{"schema":1,"nodes":[{"address":5,"pdoMapping":{"TPDO1":["6000:1"]}}]}""")]
    public void BrokenRecordsFailSchemaAndReader(string json)
    {
        Assert.False(PublishedSchemas.AsBuilt.Accepts(JsonNode.Parse(json)));
        Assert.False(AsBuiltReader.TryRead(Encoding.UTF8.GetBytes(json), out _, out _));
    }
}
