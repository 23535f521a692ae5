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
    public async Task WhatIsWrongEndsWithTwoAndOneLine(params string[] arguments)
    {
        Command ran = await Command.RunAsync(Command.Program, arguments);
        Assert.Equal(2, ran.Status);
        Assert.Equal(string.Empty, ran.Output);
        Assert.Matches("^diagnostics: [^\n]+\n$", ran.Error);
    }
}
