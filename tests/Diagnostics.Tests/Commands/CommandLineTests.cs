using System.Text.Json;

namespace Diagnostics.Tests.Commands;

public sealed class CommandLineTests : IDisposable
{
    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("commands");

    public void Dispose() => _directory.Delete(recursive: true);

    private string Write(string name, string text)
    {
        string path = Path.Combine(_directory.FullName, name);
        File.WriteAllText(path, text);
        return path;
    }

    private static async Task<string> RefusedAsync(RecordedWorld world, params string[] arguments)
    {
        Assert.Equal(2, await world.RunAsync(arguments));
        Assert.Equal(string.Empty, world.OutputText);
        string line = Assert.Single(world.ErrorText.Split('\n', StringSplitOptions.RemoveEmptyEntries));
        Assert.StartsWith("diagnostics: ", line, StringComparison.Ordinal);
        return line;
    }

    [Theory]
    [InlineData(new[] { "listne" }, "'listen'")]
    [InlineData(new[] { "replay", "x", "--jsn" }, "--json")]
    [InlineData(new[] { "replay", "x", "--bitrate", "1" }, "--bit-rate")]
    [InlineData(new[] { "replay", "x", "--zzzzzzzzzz" }, "'diagnostics replay --help'")]
    [InlineData(new[] { "replay" }, "TRACE")]
    [InlineData(new[] { "replay", "-", "-" }, "twice")]
    [InlineData(new[] { "replay", "x", "--json", "--json" }, "twice")]
    [InlineData(new[] { "replay", "x", "--json=yes" }, "takes no value")]
    [InlineData(new[] { "replay", "x", "--html" }, "its value is missing")]
    [InlineData(new[] { "replay", "x", "--html", "--json" }, "its value is missing")]
    [InlineData(new[] { "replay", "x", "--bit-rate", "4999" }, "bit/s")]
    [InlineData(new[] { "replay", "x", "--bit-rate=1000001" }, "bit/s")]
    [InlineData(new[] { "replay", "x", "--protocol", "canopne" }, "canopen")]
    [InlineData(new[] { "replay", "no-trace.bin" }, "it is no trace")]
    [InlineData(new[] { "replay", "x", "--html", "/nowhere/at/all.html" }, "can't be written")]
    [InlineData(new[] { "demo", "word" }, "takes options only")]
    [InlineData(new[] { "listen", "--port", "65536" }, "--port")]
    [InlineData(new[] { "listen", "a-name-that-is-too-long" }, "ip link")]
    [InlineData(new[] { "listen", "can0/../x" }, "ip link")]
    [InlineData(new string[0], "none was given")]
    public async Task WhatIsWrongIsToldInOneLineWithARemedy(string[] arguments, string told) =>
        Assert.Contains(told, await RefusedAsync(new(), arguments), StringComparison.Ordinal);

    [Fact]
    public async Task ControlCharactersInAnArgumentDoNotReachTheTerminal()
    {
        string line = await RefusedAsync(new(), "li\u001b[31m\nsten\u202E");
        Assert.DoesNotContain('\u001b', line);
        Assert.DoesNotContain('\u202E', line);
    }

    [Fact]
    public async Task HelpAndVersionArePrinted()
    {
        RecordedWorld world = new();
        Assert.Equal(0, await world.RunAsync("--help"));
        Assert.Contains("diagnostics replay TRACE…", world.OutputText, StringComparison.Ordinal);
        RecordedWorld version = new();
        Assert.Equal(0, await version.RunAsync("--version"));
        Assert.Matches("^diagnostics [0-9]+\\.[0-9]+\\.[0-9]+\n$", version.OutputText);
        RecordedWorld command = new();
        Assert.Equal(0, await command.RunAsync("listen", "--help"));
        Assert.Contains("--port N", command.OutputText, StringComparison.Ordinal);
        Assert.Null(command.LiveSettings);
    }

    [Fact]
    public async Task ReplayPrintsTheDocumentAndNothingElse()
    {
        RecordedWorld world = new();
        Assert.Equal(0, await world.RunAsync("replay", "one.log", "two.log", "--json"));
        Assert.Equal(["one.log", "two.log"], world.TracesOpened);
        Assert.Equal(string.Empty, world.ErrorText);
        using JsonDocument document = JsonDocument.Parse(world.Output.ToArray());
        Assert.Equal(1, document.RootElement.GetProperty("schema").GetInt32());
        Assert.Equal("three minutes", document.RootElement.GetProperty("source").GetProperty("name").GetString());
    }

    [Fact]
    public async Task ReplayPrintsTextInEightyColumnsAndWritesThePage()
    {
        RecordedWorld world = new();
        string page = Path.Combine(_directory.FullName, "report.html");
        Assert.Equal(0, await world.RunAsync("replay", "one.log", $"--html={page}"));
        Assert.Contains("What is wrong, and where to look", world.OutputText, StringComparison.Ordinal);
        Assert.All(world.OutputText.Split('\n'), line => Assert.InRange(line.Length, 0, 80));
        Assert.StartsWith("<!doctype html>", await File.ReadAllTextAsync(page, TestContext.Current.CancellationToken), StringComparison.Ordinal);
    }

    [Fact]
    public async Task ADashIsAWordAndTwoDashesEndTheOptions()
    {
        RecordedWorld world = new();
        Assert.Equal(0, await world.RunAsync("replay", "--json", "-", "--", "--json"));
        Assert.Equal(["-", "--json"], world.TracesOpened);
    }

    [Fact]
    public async Task OptionsWinOverTheEnvironmentAndThatOverTheFile()
    {
        string settings = Write("agent.json", """
            { // as a person writes it
              "schema": 1, "interfaces": ["can1", "can2"], "bitRate": 50000, "port": 1000, "protocol": null, "logMegabytes": 64, }
            """);
        RecordedWorld world = new() { Environment = { ["DIAGNOSTICS_SETTINGS"] = settings, ["DIAGNOSTICS_PORT"] = "2000", ["DIAGNOSTICS_BIT_RATE"] = "100000", ["STATE_DIRECTORY"] = "/var/lib/x:/y" } };
        await world.RunAsync("listen", "--port", "3000");
        Assert.NotNull(world.LiveSettings);
        Assert.Equal(3000, world.LiveSettings.Port);
        Assert.Equal(100_000, world.LiveSettings.BitRate);
        Assert.Equal(["can1", "can2"], world.LiveSettings.Interfaces);
        Assert.Equal("auto", world.LiveSettings.Protocol);
        Assert.Equal(64, world.LiveSettings.LogMegabytes);
        Assert.Equal("/var/lib/x", world.LiveSettings.LogDirectory);

        RecordedWorld named = new() { Environment = { ["DIAGNOSTICS_SETTINGS"] = settings } };
        await named.RunAsync("listen", "vcan0");
        Assert.Equal(["vcan0"], named.LiveSettings!.Interfaces);
    }

    [Theory]
    [InlineData("{ \"bitrate\": 1 }", "did you mean bitRate")]
    [InlineData("{ \"port\": true }", "true")]
    [InlineData("{ \"schema\": 2 }", "schema 1")]
    [InlineData("{ \"port\": 99999 }", "agent.json")]
    [InlineData("{\n\"port\": 1,\n\"log\" 2 }", "line 3")]
    [InlineData("{ \"port\": 1, \"port\": 2 }", "twice")]
    [InlineData("{ \"interfaces\": [1] }", "a list of something else")]
    [InlineData("[]", "no JSON object")]
    [InlineData("", "no valid JSON")]
    public async Task AWrongSettingIsToldWithItsNameAndWhereItStands(string text, string told)
    {
        RecordedWorld world = new() { Environment = { ["DIAGNOSTICS_SETTINGS"] = Write("agent.json", text) } };
        Assert.Contains(told, await RefusedAsync(world, "listen"), StringComparison.Ordinal);
    }

    [Fact]
    public async Task SettingsThatWereNamedMustBeThere()
    {
        RecordedWorld world = new() { Environment = { ["DIAGNOSTICS_SETTINGS"] = "/nowhere/agent.json" } };
        Assert.Contains("DIAGNOSTICS_SETTINGS", await RefusedAsync(world, "listen"), StringComparison.Ordinal);
    }

    [Fact]
    public async Task ALogDirectoryThatWasNamedMustBeWritable()
    {
        string file = Write("a-file", string.Empty);
        string line = await RefusedAsync(new(), "listen", "--log", Path.Combine(file, "log"));
        Assert.Contains("--log", line, StringComparison.Ordinal);
        Assert.Contains("name a directory", line, StringComparison.Ordinal);
    }
}
