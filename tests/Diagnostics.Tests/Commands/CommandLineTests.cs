using System.Diagnostics;
using System.Globalization;
using System.Net;
using System.Net.Sockets;
using System.Text;
using System.Text.Json;
using Diagnostics.Agent.Commands;

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

    [Fact]
    public async Task HelpTakesACommandAsCommandsTakeHelp()
    {
        RecordedWorld asked = new();
        RecordedWorld told = new();
        Assert.Equal((0, 0), (await asked.RunAsync("replay", "--help"), await told.RunAsync("help", "replay")));
        Assert.Equal(asked.OutputText, told.OutputText);
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task AnOutputThatIsClosedIsAReasonAndNoCrash(bool isErrorClosed)
    {
        // As the console tells a descriptor that was closed before the program began (>&-).
        using ClosedStream closed = new();
        using MemoryStream error = new();
        CommandContext context = new() { Input = Stream.Null, Output = closed, Error = isErrorClosed ? closed : error, Sources = RealSources.Create() };
        Assert.Equal(CommandLine.Refused, await CommandLine.RunAsync(["--version"], context, TestContext.Current.CancellationToken));
        Assert.Equal(isErrorClosed ? string.Empty : "diagnostics: output: Bad file descriptor; free space there, or write elsewhere.\n", Encoding.UTF8.GetString(error.ToArray()));
    }

    private sealed class ClosedStream : MemoryStream
    {
        public override void Write(ReadOnlySpan<byte> buffer) => throw new UnauthorizedAccessException("Access to the path is denied.", new IOException("Bad file descriptor"));
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
    [InlineData(new[] { "help", "listne" }, "'listen'")]
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
    [InlineData(new[] { "replay", "x", "--bit-rate", "abc" }, "'abc' is no whole number")]
    [InlineData(new[] { "replay", "x", "--bit-rate", "-5" }, "-5 is negative, which it must not be; give bit/s, 5000 to 1000000")]
    [InlineData(new[] { "replay", "x", "--bit-rate", "-" }, "'-' is no whole number")]
    [InlineData(new[] { "replay", "x", "--bit-rate", "99999999999999999999" }, "not within its limits")]
    [InlineData(new[] { "replay", "x", "--protocol", "modules.eds" }, "'modules.eds': there is no such file; name electronic data sheets (EDS, DCF)")]
    [InlineData(new[] { "demo", "word" }, "takes options only")]
    [InlineData(new[] { "bundle", "stick" }, "name where to with --to")]
    [InlineData(new[] { "bundle", "--log", "/nowhere/at/all", "--port", "1" }, "no service answers on port 1, and there is no log in '/nowhere/at/all'")]
    [InlineData(new[] { "bundle", "--port", "x" }, "'x' is no whole number")]
    [InlineData(new[] { "bundle", "--port", "0", "--log", "/proc" }, "there is no log in '/proc'")]
    [InlineData(new[] { "open", "/nowhere/at/all.zip", "--port", "65536" }, "--port")]
    [InlineData(new[] { "listen", "--port", "65536" }, "--port")]
    [InlineData(new[] { "listen", "a-name-that-is-too-long" }, "ip link")]
    [InlineData(new[] { "listen", "can0/../x" }, "ip link")]
    [InlineData(new string[0], "none was given")]
    public async Task WhatIsWrongIsToldInOneLineWithARemedy(string[] arguments, string told) =>
        Assert.Contains(told, await RefusedAsync(new(), arguments), StringComparison.Ordinal);

    [Fact]
    public async Task TheNameOfAProtocolKnowsNoCase()
    {
        RecordedWorld world = new();
        await world.RunAsync("listen", "--protocol", "CANopen", "--port", "0");
        Assert.Equal("canopen", world.LiveSettings!.Protocol);
    }

    [Fact]
    public async Task TheDemoTakesThePortOfTheEnvironmentAndNothingElse()
    {
        using TcpListener taken = new(IPAddress.Loopback, 0);
        taken.Start();
        string port = ((IPEndPoint)taken.LocalEndpoint).Port.ToString(CultureInfo.InvariantCulture);
        RecordedWorld world = new() { Environment = { ["DIAGNOSTICS_PORT"] = port, ["DIAGNOSTICS_LOG"] = "/nowhere/at/all" } };
        string line = await RefusedAsync(world, "demo");
        Assert.Contains($"another program uses port {port}", line, StringComparison.Ordinal);

        // With a port that is free it comes as far as the site, which this world doesn't have.
        Assert.Contains("this world has no site", await RefusedAsync(new() { Environment = world.Environment }, "demo", "--port", "0"), StringComparison.Ordinal);
    }

    /// <summary>192.0.2.1 is an address of no machine (RFC 5737).</summary>
    [Fact]
    public async Task TheDemoRefusesAnAddressThatTheMachineDoesNotHave()
    {
        string line = await RefusedAsync(new(), "demo", "--port", "0", "--listen-on", "127.0.0.2,192.0.2.1");
        Assert.Contains("the page can't be served at 192.0.2.1: this machine has no such address", line, StringComparison.Ordinal);
        Assert.Contains("this world has no site", await RefusedAsync(new(), "demo", "--port", "0", "--listen-on", "127.0.0.2"), StringComparison.Ordinal);
    }

    [Fact]
    public async Task ANoteThatIsTooLongIsRefusedWithItsLimit() =>
        Assert.Equal("diagnostics: note: it has 5,000 characters, and a note has 200 at most; shorten it; nothing was marked.", await RefusedAsync(new(), "mark", new string('x', 5000)));

    /// <summary>Of the block of the section 28 bytes (whole, pcapng, IETF draft), then two of the interface's: no interface is known.</summary>
    [Fact]
    public async Task ATraceThatBreaksOffBeforeItsFirstInterfaceHoldsNoFrames()
    {
        string cut = Path.Combine(_directory.FullName, "cut.pcapng");
        await File.WriteAllBytesAsync(
            cut,
            [0x0A, 0x0D, 0x0D, 0x0A, 28, 0, 0, 0, 0x4D, 0x3C, 0x2B, 0x1A, 1, 0, 0, 0, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 28, 0, 0, 0, 1, 0],
            TestContext.Current.CancellationToken);
        MemoryStream output = new();
        CommandContext context = new() { Input = Stream.Null, Output = output, Error = Stream.Null, Sources = RealSources.Create() };
        Assert.Equal(0, await CommandLine.RunAsync(["replay", cut], context, TestContext.Current.CancellationToken));
        string text = Encoding.UTF8.GetString(output.ToArray());
        Assert.StartsWith("This trace holds no frames, so nothing can be said about the bus.", text, StringComparison.Ordinal);
        Assert.Contains("- The trace ends in the middle of a record (byte 28).", text, StringComparison.Ordinal);
        Assert.DoesNotContain("nterface", text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task ADirectoryIsNoTrace()
    {
        MemoryStream error = new();
        CommandContext context = new() { Input = Stream.Null, Output = Stream.Null, Error = error, Sources = RealSources.Create() };
        Assert.Equal(2, await CommandLine.RunAsync(["replay", _directory.FullName], context, TestContext.Current.CancellationToken));
        Assert.Contains("it is a directory; name the traces in it", Encoding.UTF8.GetString(error.ToArray()), StringComparison.Ordinal);
    }

    [Fact]
    public async Task MembersOfTheRecordThatAreNotKnownAreToldAtTheStart()
    {
        string site = Write("site.json", "{ \"schema\": 1,\n\"nodes\": [ { \"address\": 5, \"naem\": \"x\" } ] }");
        RecordedWorld world = new();
        Assert.Equal(0, await world.RunAsync("replay", "one.log", "--site", site));
        Assert.Equal("note: As-built record, line 2, column 36, $.nodes[0].naem: this member is not known and was ignored.\n", world.ErrorText);
        Assert.Contains("$.nodes[0].naem", world.OutputText, StringComparison.Ordinal);
    }

    [Fact]
    public async Task APipeInPlaceOfSettingsIsRefusedInsteadOfWaitedFor()
    {
        string pipe = Path.Combine(_directory.FullName, "pipe");
        using (Process made = Process.Start("mkfifo", pipe))
        {
            await made.WaitForExitAsync(TestContext.Current.CancellationToken);
            Assert.Equal(0, made.ExitCode);
        }

        RecordedWorld world = new() { Environment = { ["DIAGNOSTICS_SETTINGS"] = pipe } };
        Assert.Contains("it is a pipe, not a file; name an ordinary file", await RefusedAsync(world, "listen"), StringComparison.Ordinal);
        Assert.Contains("it is a pipe, not a file", await RefusedAsync(new(), "listen", "--site", pipe), StringComparison.Ordinal);
    }

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
    [InlineData("{\n  \"port\": 1,\n  \"bitrate\": 1 }", "diagnostics: bitrate (from *, line 3, column 3): there is no such setting; the nearest one is bitRate.")]
    [InlineData("{ \"zzzzzzzzzzzz\": 1 }", "diagnostics: zzzzzzzzzzzz (from *, line 1, column 3): there is no such setting; the settings there are interfaces, bitRate, protocol, ")]
    [InlineData("{\n\"port\": true }", "diagnostics: port (from *, line 2, column 9): 'true' is no whole number; give a TCP port, ")]
    [InlineData("{\n\"port\": 99999 }", "diagnostics: port (from *, line 2, column 9): 99999 is not within its limits; give a TCP port, ")]
    [InlineData("{\n\"bitRate\": { \"is\": 1 } }", "diagnostics: bitRate (from *, line 2, column 12): an object stands where a text or a number belongs; see the sample settings.")]
    [InlineData("{\n\"protocol\": \"canopne\" }", "diagnostics: protocol (from *, line 2, column 13): 'canopne' is no protocol that this program knows")]
    [InlineData("{\n\"listenOn\": \"1.2.3\" }", "diagnostics: listenOn (from *, line 2, column 13): '1.2.3' is no address; ")]
    [InlineData("{\n\"board\": {\n  \"suply\": {} } }", "diagnostics: board.suply (from *, line 3, column 3): there is no such setting; the nearest one is supply.")]
    [InlineData("{\n\"schema\": 2 }", "diagnostics: schema (from *, line 2, column 11): this program reads schema 1; ")]
    [InlineData("{ \"port\": 1,\n  \"port\": 2 }", "diagnostics: port (from *, line 2, column 3): the setting stands there twice; remove one of them.")]
    [InlineData("{ \"interfaces\": [1] }", "diagnostics: interfaces (from *, line 1, column 17): a list of something else than texts stands where ")]
    [InlineData("{\n\"port\": 1,\n\"log\" 2 }", "diagnostics: * (named by DIAGNOSTICS_SETTINGS), line 3, column 7: this is not JSON; look for a missing or superfluous comma, quote or bracket just before this place.")]
    [InlineData("{\n\"port\": 1 } x", "diagnostics: * (named by DIAGNOSTICS_SETTINGS), line 2, column 13: this is not JSON; ")]
    [InlineData("{\n\"name\": \"\\ud800\" }", "diagnostics: * (named by DIAGNOSTICS_SETTINGS), line 2, column 9: half a character is escaped here; ")]
    [InlineData("// nothing\n[]", "diagnostics: * (named by DIAGNOSTICS_SETTINGS), line 2, column 1: this is no JSON object; ")]
    [InlineData(" \n", "diagnostics: * (named by DIAGNOSTICS_SETTINGS): the file is empty; ")]
    public async Task AWrongSettingIsToldWithItsNameAndWhereItStands(string text, string told)
    {
        string path = Write("agent.json", text);
        RecordedWorld world = new() { Environment = { ["DIAGNOSTICS_SETTINGS"] = path } };
        Assert.StartsWith(told.Replace("*", path, StringComparison.Ordinal), await RefusedAsync(world, "listen"), StringComparison.Ordinal);
    }

    [Fact]
    public async Task SettingsInAnotherEncodingAreRefusedAtTheirFirstOddByte()
    {
        string path = Path.Combine(_directory.FullName, "agent.json");
        await File.WriteAllBytesAsync(path, Encoding.Latin1.GetBytes("{\n\"site\": \"Büro.json\" }"), TestContext.Current.CancellationToken);
        RecordedWorld world = new() { Environment = { ["DIAGNOSTICS_SETTINGS"] = path } };
        Assert.Contains(", line 2, column 11: the text is not UTF-8; save the file with the encoding UTF-8.", await RefusedAsync(world, "listen"), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("DIAGNOSTICS_BITRATE", "the nearest one is DIAGNOSTICS_BIT_RATE.")]
    [InlineData("DIAGNOSTICS_LISTENON", "the nearest one is DIAGNOSTICS_LISTEN_ON.")]
    [InlineData("DIAGNOSTICS_LANG", "the nearest one is DIAGNOSTICS_LANGUAGE.")]
    [InlineData("DIAGNOSTICS_SETTING", "the nearest one is DIAGNOSTICS_SETTINGS.")]
    [InlineData("DIAGNOSTICS_bit_rate", "the nearest one is DIAGNOSTICS_BIT_RATE.")]
    [InlineData("DIAGNOSTICS_QQQQQQQQQQQQQQQQ", "remove it, or name one of DIAGNOSTICS_SETTINGS, DIAGNOSTICS_INTERFACES, ")]
    public async Task AVariableOfOursThatMeansNothingIsRefusedByEachCommand(string name, string told)
    {
        foreach (string command in new[] { "listen", "demo", "board", "mark", "replay one.log", "compare one.log two.log", "report one.log --html -", "open one.zip" })
        {
            RecordedWorld world = new() { Environment = { [name] = "1" } };
            Assert.StartsWith($"diagnostics: environment variable {name}: there is no such setting; {told}", await RefusedAsync(world, command.Split(' ')), StringComparison.Ordinal);
        }
    }

    [Fact]
    public async Task VariablesThatAreEmptyOrOfOthersOrOfNoUseToACommandAreLeftAlone()
    {
        RecordedWorld others = new() { Environment = { ["DIAGNOSTICS_BITRATE"] = string.Empty, ["DIAGNOSTICSX"] = "1", ["BIT_RATE"] = "1", ["DOTNET_EnableDiagnostics"] = "0" } };
        await others.RunAsync("listen");
        Assert.NotNull(others.LiveSettings);

        // Recorded traffic is read without the settings of a board; those that there are were meant for the service.
        Assert.Equal(0, await new RecordedWorld { Environment = { ["DIAGNOSTICS_BIT_RATE"] = "1" } }.RunAsync("replay", "one.log"));
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
