using System.Text.Json.Nodes;
using Diagnostics.Core.Comparison;
using Diagnostics.Core.Findings;
using static Diagnostics.Tests.Comparison.Sides;

namespace Diagnostics.Tests.Comparison;

public class ComparisonSchemaTests
{
    /// <summary>A comparison with something in every list.</summary>
    private static JsonNode Document()
    {
        ObservedFinding leader = Finding(Catalogue.NodeErrors, 9, lasts: true);
        ObservedFinding follower = Finding(Catalogue.ErrorRate, lasts: true);
        follower = follower with { Report = follower.Report with { ExplainedBy = leader.Report.Key } };
        ObservedPeriod before = Of("b", 1, WithErrors(With(Bus(1), 9, node => node with { Errors = 20 }), 25), leader, follower, Finding(Catalogue.NodeRestarted, nodes: [2, 3]), Finding(Catalogue.InputChatter, 5, input: 1));
        ObservedPeriod after = Of("a", 2, Without(Bus(2), 14) with { LoadMean = 0.3 }, Finding(Catalogue.NodeSilent, id: "0x101"), Finding(Catalogue.NodeRestarted, nodes: [2, 3]));
        return JsonNode.Parse(ComparisonJson.ToUtf8(Comparer.Compare(before, after)))!;
    }

    [Fact]
    public void WhatTheProgramWritesIsValid()
    {
        Assert.True(PublishedSchemas.Comparison.Accepts(Document()));
        Assert.Equal(5, Document()["findings"]!.AsArray().Count);
        Assert.True(PublishedSchemas.Comparison.Accepts(JsonNode.Parse(ComparisonJson.ToUtf8(Comparer.Compare(new("log", "b", null, null, [], []), new("bundle", "a", null, null, [], []))))));
    }

    [Theory]
    [InlineData("schema", "2")]
    [InlineData("verdict", "\"good\"")]
    [InlineData("sentence", "\"\"")]
    [InlineData("confidenceLevel", "1.1")]
    [InlineData("before", "null")]
    [InlineData("after.kind", "\"tape\"")]
    [InlineData("after.start", "\"yesterday\"")]
    [InlineData("after.buses.0.frames", "-1")]
    [InlineData("after.buses.0.errorEpisodes", "0.5")]
    [InlineData("findings.0.outcome", "\"fixed\"")]
    [InlineData("findings.0.severity", "\"error\"")]
    [InlineData("findings.0.what", "null")]
    [InlineData("findings.0.node", "300")]
    [InlineData("findings.0.moreSeconds", "-1")]
    [InlineData("findings.0.after", "{}")]
    [InlineData("findings.0.explainedBy", "-1")]
    [InlineData("nodes.0.change", "\"gone\"")]
    [InlineData("rates.0.unit", "\"s\"")]
    [InlineData("rates.0.before.count", "null")]
    [InlineData("rates.0.probability", "1.5")]
    [InlineData("rates.0.change", "\"more\"")]
    [InlineData("rates.0.notJudgedBecause", "1")]
    [InlineData("limits", "null")]
    public void BrokenMemberIsInvalid(string path, string value)
    {
        JsonNode document = Document();
        (JsonNode parent, string member) = PublishedSchemas.Find(document, path);
        parent[member] = JsonNode.Parse(value);
        Assert.False(PublishedSchemas.Comparison.Accepts(document));
    }

    [Theory]
    [InlineData("verdict")]
    [InlineData("rates")]
    [InlineData("before.buses")]
    [InlineData("findings.0.why")]
    [InlineData("findings.0.before")]
    [InlineData("rates.0.ratioHigh")]
    [InlineData("rates.0.after.high")]
    public void MissingMemberIsInvalid(string path)
    {
        JsonNode document = Document();
        (JsonNode parent, string member) = PublishedSchemas.Find(document, path);
        Assert.True(parent.AsObject().Remove(member));
        Assert.False(PublishedSchemas.Comparison.Accepts(document));
    }

    [Theory]
    [InlineData("later")]
    [InlineData("after.later")]
    [InlineData("findings.0.later")]
    [InlineData("rates.0.later")]
    public void MembersAddedLaterAreValid(string path)
    {
        JsonNode document = Document();
        (JsonNode parent, string member) = PublishedSchemas.Find(document, path);
        parent[member] = 5;
        Assert.True(PublishedSchemas.Comparison.Accepts(document));
    }
}
