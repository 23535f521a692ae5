namespace Diagnostics.SystemTests;

public class ProgramTests
{
    [Fact]
    public async Task TheVersionIsOneLine()
    {
        Command ran = await Command.RunAsync(Command.Program, "--version");
        Assert.Equal(0, ran.Status);
        Assert.Matches("^diagnostics [0-9]+\\.[0-9]+\\.[0-9]+\n$", ran.Output);
        Assert.Equal(string.Empty, ran.Error);
    }

    [Theory]
    [InlineData("listne")]
    [InlineData("replay")]
    [InlineData("listen", "--port", "none")]
    [InlineData("demo", "--prot", "1")]
    [InlineData("replay", "/nowhere/there/is/no/trace.pcapng")]
    [InlineData("compare", "/nowhere/there/is/no/trace.pcapng", "/nor/here")]
    public async Task WhatIsWrongEndsWithTwoAndOneLine(params string[] arguments)
    {
        Command ran = await Command.RunAsync(Command.Program, arguments);
        Assert.Equal(2, ran.Status);
        Assert.Equal(string.Empty, ran.Output);
        Assert.Matches("^diagnostics: [^\n]+\n$", ran.Error);
    }

    /// <summary>What a script relies on: 0 no worse, 1 not fixed.</summary>
    [Theory]
    [InlineData("all-well", "commanded-reset", 0, "No worse")]
    [InlineData("bad-drop", "bad-drop", 1, "Not fixed.")]
    public async Task AComparisonEndsWithItsVerdict(string before, string after, int status, string verdict)
    {
        // Under a name of its own: one record named twice is refused.
        string later = Path.GetTempFileName();
        File.Copy(Repository.PathOf($"tests/traces/{after}.pcapng"), later, overwrite: true);
        Command ran = await Command.RunAsync(Command.Program, "compare", "--bit-rate", "125000", Repository.PathOf($"tests/traces/{before}.pcapng"), later);
        File.Delete(later);
        Assert.Equal(status, ran.Status);
        Assert.StartsWith(verdict, ran.Output, StringComparison.Ordinal);
    }
}
