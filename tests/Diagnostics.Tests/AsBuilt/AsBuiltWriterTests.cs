using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using Diagnostics.Core.AsBuilt;

namespace Diagnostics.Tests.AsBuilt;

public class AsBuiltWriterTests
{
    [Fact]
    public void WhatIsWrittenIsReadBackMemberByMember()
    {
        for (int seed = 0; seed < 500; seed++)
        {
            AsBuiltRecord record = RandomRecord.Of(seed);
            byte[] written = AsBuiltWriter.ToUtf8(record);
            Assert.True(AsBuiltReader.TryRead(written, out AsBuiltRecord? read, out AsBuiltError? error), $"seed {seed}: {error}");
            Assert.Equal(Members(record), Members(read!));
            Assert.Equal(written, AsBuiltWriter.ToUtf8(read!));
            Assert.True(PublishedSchemas.AsBuilt.Accepts(JsonNode.Parse(written)), $"seed {seed}");
        }
    }

    [Fact]
    public void TheExampleOfTheContractComesThroughWhole()
    {
        Assert.True(AsBuiltReader.TryRead(Encoding.UTF8.GetBytes(AsBuiltReaderTests.Example), out AsBuiltRecord? record, out _));
        Assert.True(AsBuiltReader.TryRead(AsBuiltWriter.ToUtf8(record!), out AsBuiltRecord? again, out _, out IReadOnlyList<AsBuiltRemark> remarks));
        Assert.Equal(Members(record!), Members(again!));
        Assert.Empty(remarks);
    }

    [Fact]
    public void AnEmptyRecordIsItsSchemaAlone() => Assert.Equal("{\n  \"schema\": 1\n}\n", Encoding.UTF8.GetString(AsBuiltWriter.ToUtf8(new())));

    /// <summary>By reflection over the record's own members, so that a member which the writer forgets is missed here.</summary>
    private static string Members(AsBuiltRecord record) => JsonSerializer.Serialize(record with
    {
        Nodes = [.. record.Nodes.Select(node => node with { PdoMapping = new SortedDictionary<string, IReadOnlyList<MappedObject>>(node.PdoMapping.ToDictionary(), StringComparer.Ordinal) })],
    });
}
