using System.Text.RegularExpressions;
using Diagnostics.Agent.Languages;

namespace Diagnostics.Tests.Languages;

/// <summary>The catalogue is complete and says nothing that nobody says; and its file is read strictly.</summary>
public class CatalogueTests
{
    private static readonly Regex Place = new(@"\{\d+\}");

    private static Catalogue German => Language.German.Catalogue!;

    [Fact]
    public void EachSentenceInTheSourceIsInGerman()
    {
        string[] missing = [.. SaidInSource.PlacesByTemplate.Where(said => German.Find(said.Key) is null).Select(said => $"{said.Value}: {said.Key}")];
        Assert.True(missing.Length == 0, "Not in de.po:\n" + string.Join('\n', missing));
    }

    [Fact]
    public void EachEntryIsSaidOrMarkedObsolete()
    {
        string[] unused = [.. German.Entries.Where(entry => entry.IsObsolete == SaidInSource.PlacesByTemplate.ContainsKey(entry.Template)).Select(entry => entry.Template)];
        Assert.True(unused.Length == 0, "In de.po, but said nowhere, or obsolete and said:\n" + string.Join('\n', unused));
    }

    [Fact]
    public void EachTranslationHasThePlacesOfItsTemplate()
    {
        string[] wrong = [.. German.Entries.Where(entry => !Places(entry.Template).SetEquals(Places(entry.Translation))).Select(entry => $"{entry.Template}\n    {entry.Translation}")];
        Assert.True(wrong.Length == 0, "Places differ:\n" + string.Join('\n', wrong));
    }

    [Theory]
    [InlineData("Say($\"{a} of {b:N0} said {{so}}.\")", "{0} of {1} said {{so}}.")]
    [InlineData("language.Say(\"Plain.\")", "Plain.")]
    [InlineData("Wordings.Say($\"First {a}, \" + $\"then {b}\" + \" {c}.\")", "First {0}, then {1} {{c}}.")]
    [InlineData("Say($\"Quoted \\\"{a}\\\".\")", "Quoted \"{0}\".")]
    public void TheSearchOfTheSourceMakesTheTemplateThatTheCompilerMakes(string code, string template) =>
        Assert.Equal([template], SaidInSource.Templates($"var x = {code};"));

    [Fact]
    public void BothFormsOfACountAreFound() =>
        Assert.Equal(["{0} node", "{0} nodes"], SaidInSource.Templates("var x = Say(count, $\"{count} node\", $\"{count} nodes\");"));

    [Fact]
    public void AnEntryMayGoOverSeveralLinesAndHoldEscapes()
    {
        Catalogue read = Catalogue.Parse("# A note\nmsgid \"\"\nmsgstr \"Language: de\\n\"\n\n#: somewhere\nmsgid \"\"\n\"a \\\"b\\\"\\n\"\n\"c\"\nmsgstr \"x\\\\\"\n\"y\\t\"\n#~ msgid \"old\"\n#~ msgstr \"alt\"\n");
        Assert.Equal([new CatalogueEntry("a \"b\"\nc", "x\\y\t", false), new CatalogueEntry("old", "alt", true)], read.Entries);
        Assert.Equal("alt", read.Find("old"));
        Assert.Null(read.Find("new"));
    }

    [Fact]
    public void AnEmptyTranslationIsNone() => Assert.Null(Catalogue.Parse("msgid \"a\"\nmsgstr \"\"").Find("a"));

    [Theory]
    [InlineData("msgid \"a\"", "without msgstr")]
    [InlineData("msgstr \"a\"", "line 1")]
    [InlineData("msgid \"a\"\nmsgstr \"b\"\nmsgstr \"c\"", "line 3")]
    [InlineData("msgid \"a\"\nmsgstr \"b\"\nmsgid \"a\"\nmsgstr \"c\"", "twice")]
    [InlineData("msgid a\nmsgstr \"b\"", "quotes")]
    [InlineData("msgid \"a\"b\"\nmsgstr \"b\"", "backslash")]
    [InlineData("msgid \"a\\x\"\nmsgstr \"b\"", "escape")]
    [InlineData("msgid \"a\\\"\nmsgstr \"b\"", "closing quote")]
    [InlineData("\"a\"", "line 1")]
    [InlineData("msgid \"a\"\n#~ msgstr \"b\"", "obsolete")]
    [InlineData("#, fuzzy\nmsgid \"a\"\nmsgstr \"b\"", "flags")]
    [InlineData("msgid \"a\"\nmsgid_plural \"b\"\nmsgstr \"c\"", "line 2")]
    public void WhatIsNotUnderstoodIsRefusedWithItsLine(string text, string why) =>
        Assert.Contains(why, Assert.Throws<FormatException>(() => Catalogue.Parse(text)).Message, StringComparison.Ordinal);

    private static HashSet<string> Places(string template) => [.. Place.Matches(template.Replace("{{", string.Empty, StringComparison.Ordinal)).Select(match => match.Value)];
}
