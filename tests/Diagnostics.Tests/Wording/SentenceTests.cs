using System.Text.Json;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Tests.Wording;

public class SentenceTests
{
    private static Sentence Nested => Say($"{Named("node 5")} sent {1234:N0} frames in {2.5:0.0} s{{!}}");

    /// <summary>A level of -0.004 V is none, and a sign before nothing reads as a fault.</summary>
    [Fact]
    public void WhatRoundsToNothingHasNoSign()
    {
        Assert.Equal("0.00 V", Say($"{-0.004:0.00} V").English);
        Assert.Equal("-0.01 V", Say($"{-0.006:0.00} V").English);
        Assert.Equal("0.0", Sentence.Of($"{-0.04:0.0}").English);
    }

    [Fact]
    public void AnInterpolatedTextBecomesATemplateAndItsParameters()
    {
        Assert.Equal("{0} sent {1} frames in {2} s{{!}}", Nested.Template);
        Assert.Equal("node 5 sent 1,234 frames in 2.5 s{!}", Nested.English);
        Assert.Equal(["1,234", "2.5"], Nested.Parameters.Select(parameter => parameter.Number).OfType<string>());
    }

    [Fact]
    public void ItComesBackFromJsonAsItWas() => Assert.Equal(Nested, JsonSerializer.Deserialize<Sentence>(JsonSerializer.Serialize(Nested)));

    [Fact]
    public void ASentenceWithoutParametersIsItsText()
    {
        Assert.Equal("{\"text\":\"Nothing was heard.\"}", JsonSerializer.Serialize(Say($"Nothing was heard.")));
        Assert.Equal("Nothing was heard.", Say($"Nothing was heard.").ToString());
    }

    [Theory]
    [InlineData("1", "one")]
    [InlineData("0", "0 of them")]
    [InlineData("2", "2 of them")]
    public void OneIsSaidOtherwiseThanMany(string count, string said) =>
        Assert.Equal(said, Say(long.Parse(count, System.Globalization.CultureInfo.InvariantCulture), $"one", $"{long.Parse(count, System.Globalization.CultureInfo.InvariantCulture)} of them").English);

    [Theory]
    [InlineData("", "")]
    [InlineData("a", "a")]
    [InlineData("a b", "a and b")]
    [InlineData("a b c d e", "a, b, c, d and e")]
    public void AListIsSaidAsOne(string parts, string said) =>
        Assert.Equal(said, List([.. parts.Split(' ', StringSplitOptions.RemoveEmptyEntries).Select(Named)]).English);

    [Fact]
    public void JoinLeavesEmptySentencesOut()
    {
        Assert.Equal("A. B. C.", Join(Named("A."), Sentence.Empty, Named("B."), Named("C.")).English);
        Assert.True(Join(Sentence.Empty).IsEmpty);
    }

    [Fact]
    public void AListOfAllNodesComesBackFromJson()
    {
        Sentence list = List([.. Enumerable.Range(1, 500).Select(node => Say($"node {node}"))]);
        Assert.Equal(list, JsonSerializer.Deserialize<Sentence>(JsonSerializer.Serialize(list)));
        Assert.EndsWith("node 499 and node 500", list.English, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("{0} {1} {}", "a {1} {}")]
    [InlineData("{", "{")]
    [InlineData("}{0", "}{0")]
    [InlineData("{ 0}{-1}{99999999999}", "{ 0}{-1}{99999999999}")]
    [InlineData("{{0}} {0}", "{0} a")]
    public void AStoredTemplateIsNotTrusted(string template, string said) => Assert.Equal(said, new Sentence(template, [new("a", null, null)]).English);

    [Fact]
    public void TemplatesThatDoubleWithinEachOtherAreBounded()
    {
        Sentence bomb = new("", []);
        Sentence loud = Named("0123456789");
        for (int depth = 0; depth < 40; depth++)
        {
            bomb = new("{0}{0}", [new(null, null, bomb)]);
            loud = new("{0}{0}", [new(null, null, loud)]);
        }

        Assert.Equal(string.Empty, bomb.English);
        Assert.InRange(loud.English.Length, 1, 100_000);
    }

    [Theory]
    [InlineData("\"a\"")]
    [InlineData("7")]
    [InlineData("[]")]
    [InlineData("{}")]
    [InlineData("{\"number\":\"7\"}")]
    [InlineData("{\"text\":7}")]
    [InlineData("{\"text\":\"a\",\"parameters\":[null]}")]
    [InlineData("{\"text\":\"a\",\"parameters\":[7]}")]
    [InlineData("{\"text\":\"a\",\"parameters\":[{}]}")]
    [InlineData("{\"text\":\"a\",\"parameters\":[\"b\"")]
    public void WhatIsNoSentenceIsRefused(string json) => Assert.ThrowsAny<JsonException>(() => JsonSerializer.Deserialize<Sentence>(json));

    [Fact]
    public void ASentenceTooDeepOrTooWideIsRefused()
    {
        string deep = string.Concat(Enumerable.Repeat("{\"text\":\"{0}\",\"parameters\":[", 25)) + "\"a\"" + string.Concat(Enumerable.Repeat("]}", 25));
        string wide = "{\"text\":\"a\",\"parameters\":[" + string.Join(',', Enumerable.Repeat("\"b\"", 100)) + "]}";
        Assert.ThrowsAny<JsonException>(() => JsonSerializer.Deserialize<Sentence>(deep));
        Assert.ThrowsAny<JsonException>(() => JsonSerializer.Deserialize<Sentence>(wide));
    }

    [Fact]
    public void UnknownMembersAreSkipped() => Assert.Equal("a", JsonSerializer.Deserialize<Sentence>("{\"newer\":{\"x\":[1]},\"text\":\"a\"}")!.English);

    [Fact]
    public void ATextOfTheLanguageItselfBecomesASentence()
    {
        FormattableString inner = $"line {12}";
        FormattableString text = $"{3.14159:0.00} s of {{this}}, {"door"}, at {inner}";
        Sentence sentence = Sentence.Of(text);
        Assert.Equal("{0} s of {{this}}, {1}, at {2}", sentence.Template);
        Assert.Equal("3.14 s of {this}, door, at line 12", sentence.English);
        Assert.Equal(FormattableString.Invariant($"{3.14159:0.00} s of {{this}}, {"door"}, at line {12}"), sentence.English);
    }

    [Fact]
    public void WhatStandsWhereASentenceBeginsKeepsThatInJson()
    {
        Sentence sentence = Capital(Say($"{Say($"node {5}")} stopped."));
        Assert.Equal("Node 5 stopped.", sentence.English);
        Assert.Equal(sentence, JsonSerializer.Deserialize<Sentence>(JsonSerializer.Serialize(sentence)));
        Assert.NotEqual(sentence, sentence with { BeginsAsSentence = false });
    }
}
