using System.Text;
using System.Text.Json;
using Diagnostics.Agent;
using Diagnostics.Agent.Commands;
using Diagnostics.Core.Protocols.CanOpen;
using Diagnostics.Tests.Detectors;
using Diagnostics.Tests.Protocols.CanOpen;

namespace Diagnostics.Tests.Commands;

public sealed class DataSheetFilesTests : IDisposable
{
    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("data-sheets");

    public void Dispose() => _directory.Delete(recursive: true);

    private string Write(string name, string text)
    {
        string path = Path.Combine(_directory.FullName, name);
        File.WriteAllText(path, text);
        return path;
    }

    private static string ForNode(int node) => WrenfieldSheets.Text(0x101, FormattableString.Invariant($"NodeID={node}"), ("TPDO1", ["60000108"], null));

    private static async Task<AgentSettings> SettingsAsync(RecordedWorld world, params string[] options)
    {
        Assert.Equal(2, await world.RunAsync(["listen", "--port", "0", .. options]));
        Assert.Contains("this world has no interfaces", world.ErrorText, StringComparison.Ordinal);
        return world.LiveSettings!;
    }

    private static async Task<string> RefusedAsync(params string[] arguments)
    {
        RecordedWorld world = new();
        Assert.Equal(2, await world.RunAsync(arguments));
        Assert.Equal(string.Empty, world.OutputText);
        return Assert.Single(world.ErrorText.Split('\n', StringSplitOptions.RemoveEmptyEntries));
    }

    [Fact]
    public async Task ADataSheetIsKnownByItsContentAndMeansCanOpen()
    {
        AgentSettings settings = await SettingsAsync(new(), "--protocol", Write("modules.txt", WrenfieldSheets.Panel));
        Assert.Equal("canopen", settings.Protocol);
        Assert.Equal("modules.txt", Assert.Single(settings.DataSheets).Name);
    }

    [Fact]
    public async Task SeveralAreGivenByRepeatingTheOptionOrAsADirectory()
    {
        string panel = Write("wr-p8.EDS", WrenfieldSheets.Panel);
        string five = Write("ws-05.dcf", ForNode(5));
        Write("read me.txt", "where to get these");
        AgentSettings repeated = await SettingsAsync(new(), "--protocol", panel, $"--protocol={five}");
        Assert.Equal(["wr-p8.EDS", "ws-05.dcf"], repeated.DataSheets.Select(sheet => sheet.Name));
        AgentSettings directory = await SettingsAsync(new(), "--protocol", _directory.FullName);
        Assert.Equal(["wr-p8.EDS", "ws-05.dcf"], directory.DataSheets.Select(sheet => sheet.Name));

        // A file that is named and lies in the directory, too, is one file.
        Assert.Equal(2, (await SettingsAsync(new(), "--protocol", panel, "--protocol", _directory.FullName)).DataSheets.Count);
    }

    [Fact]
    public async Task ACommaMayStandInTheNameOfAFile() =>
        Assert.Equal("buttons, workshop.eds", (await SettingsAsync(new(), "--protocol", Write("buttons, workshop.eds", WrenfieldSheets.Panel))).DataSheets.Single().Name);

    [Fact]
    public async Task SettingsAndEnvironmentTakeThemToo()
    {
        string panel = Write("wr-p8.eds", WrenfieldSheets.Panel);
        string five = Write("ws-05.dcf", ForNode(5));
        string settings = Write("agent.json", JsonSerializer.Serialize(new { schema = 1, protocol = (string[])[panel, five] }));
        Assert.Equal(2, (await SettingsAsync(new() { Environment = { ["DIAGNOSTICS_SETTINGS"] = settings } })).DataSheets.Count);
        Assert.Equal(2, (await SettingsAsync(new() { Environment = { ["DIAGNOSTICS_PROTOCOL"] = panel + "," + five } })).DataSheets.Count);
        AgentSettings option = await SettingsAsync(new() { Environment = { ["DIAGNOSTICS_SETTINGS"] = settings } }, "--protocol", "none");
        Assert.Equal(("none", 0), (option.Protocol, option.DataSheets.Count));
    }

    [Theory]
    [InlineData("wr-p8.eds", "canopen", 1)]
    [InlineData("sheets", "canopen", 1)]
    [InlineData("CANopen", "canopen", 0)]
    [InlineData("none", "none", 0)]
    [InlineData("auto", "auto", 0)]
    public async Task TheRecordNamesProtocolOrDataSheetsBesideItself(string protocol, string meant, int sheets)
    {
        Write("wr-p8.eds", WrenfieldSheets.Panel);
        _directory.CreateSubdirectory("sheets");
        Write("sheets/panel.eds", WrenfieldSheets.Panel);
        string site = Write("site.json", JsonSerializer.Serialize(new { schema = 1, protocol }));
        AgentSettings settings = await SettingsAsync(new(), "--site", site);
        Assert.Equal((meant, sheets), (settings.Protocol, settings.DataSheets.Count));

        // The option wins.
        Assert.Equal(("none", 0), ((await SettingsAsync(new(), "--site", site, "--protocol", "none")) is { } told ? (told.Protocol, told.DataSheets.Count) : default));
    }

    [Fact]
    public async Task AProtocolOfTheRecordThatIsNotKnownIsToldInsteadOfTakenForNone()
    {
        string site = Write("site.json", "{ \"schema\": 1, \"protocol\": \"canopne\" }");
        string line = await RefusedAsync("replay", "x", "--site", site);
        Assert.Contains($"protocol in the as-built record '{site}': 'canopne' is no protocol", line, StringComparison.Ordinal);
        Assert.Contains("nearest: canopen", line, StringComparison.Ordinal);
    }

    [Fact]
    public async Task WhatIsWrongInOneIsToldWithFileLineAndRemedy()
    {
        string path = Write("wr-p8.eds", WrenfieldSheets.Panel.Replace("0x60000108", "0x60000l08", StringComparison.Ordinal));
        string line = await RefusedAsync("replay", "x", "--protocol", path);
        Assert.Matches($"^diagnostics: protocol \\(from the option --protocol\\): '{path}', line [0-9]+: '0x60000l08' is no number \\(DefaultValue of \\[1A01sub1\\]\\); write a number such as 385 or 0x181, or leave the value empty\\.$", line);
    }

    [Fact]
    public async Task WhatIsNoDataSheetIsRefused()
    {
        Assert.Contains("line 1: this is no data sheet", await RefusedAsync("replay", "x", "--protocol", Write("notes.eds", "call the maker\n")), StringComparison.Ordinal);
        Assert.Contains("there is no such file", await RefusedAsync("replay", "x", "--protocol", Path.Combine(_directory.FullName, "none.eds")), StringComparison.Ordinal);
        Assert.Contains("ends in .eds or .dcf", await RefusedAsync("replay", "x", "--protocol", Path.GetFullPath(_directory.CreateSubdirectory("empty").FullName)), StringComparison.Ordinal);
        Assert.Contains("longer than 4 MB", await RefusedAsync("replay", "x", "--protocol", Write("long.eds", new string(';', CanOpenLimits.DataSheetBytes + 1))), StringComparison.Ordinal);
        Assert.Contains("'canopen' is given beside something else", await RefusedAsync("replay", "x", "--protocol", "canopen", "--protocol", Write("a.eds", WrenfieldSheets.Panel)), StringComparison.Ordinal);
        Assert.Contains("no protocol that this program knows, and no file", await RefusedAsync("replay", "x", "--protocol", ","), StringComparison.Ordinal);
        Assert.SkipUnless(File.Exists("/dev/zero"), "There is no /dev/zero here.");
        Assert.Contains("it is a device, not a file", await RefusedAsync("replay", "x", "--protocol", "/dev/zero"), StringComparison.Ordinal);
    }

    [Fact]
    public async Task TwoFilesForOneNodeAndTooManyKindsAreRefused()
    {
        string line = await RefusedAsync("replay", "x", "--protocol", Write("a.dcf", ForNode(5)), "--protocol", Write("b.dcf", ForNode(5)));
        Assert.Contains("are both for node 5; give one file for each node.", line, StringComparison.Ordinal);

        string many = _directory.CreateSubdirectory("many").FullName;
        for (int i = 0; i <= DataSheetReader.MostKinds; i++)
        {
            await File.WriteAllTextAsync(Path.Combine(many, FormattableString.Invariant($"{i}.eds")), WrenfieldSheets.Text((uint)i + 1, null), TestContext.Current.CancellationToken);
        }

        Assert.Contains("more than 64 data sheets that name no node", await RefusedAsync("replay", "x", "--protocol", many), StringComparison.Ordinal);
        File.Delete(Path.Combine(many, "0.eds"));
        for (int node = 1; node <= 127; node++)
        {
            await File.WriteAllTextAsync(Path.Combine(many, FormattableString.Invariant($"{node}.dcf")), ForNode(node), TestContext.Current.CancellationToken);
        }

        Assert.Equal(64 + 127, (await SettingsAsync(new(), "--protocol", many)).DataSheets.Count);
    }

    [Fact]
    public async Task WhatASheetDoesNotSayIsToldAtTheStartAndOnThePage()
    {
        string path = Write("wr-p8.eds", WrenfieldSheets.Panel.Replace("[1A01sub0]\nDefaultValue=1", "[1A01sub0]\nDefaultValue=2", StringComparison.Ordinal));
        RecordedWorld world = new();
        Assert.Equal(0, await world.RunAsync("replay", "one.log", "--protocol", path));
        Assert.Matches("^note: Data sheet wr-p8.eds, line [0-9]+: what TPDO2 carries isn't said in whole \\(1A01h sub 2 is missing\\), so nothing of it is used\\.\n$", world.ErrorText);
        Assert.Contains("Data sheet wr-p8.eds", world.OutputText, StringComparison.Ordinal);

        string two = Write("b.dcf", ForNode(6).Replace("NodeID=6", "NodeID=6\nBaudrate=250", StringComparison.Ordinal));
        RecordedWorld rates = new();
        Assert.Equal(0, await rates.RunAsync("replay", "one.log", "--protocol", two, "--protocol", Write("c.dcf", WrenfieldSheets.WorkshopPanel)));
        Assert.Equal("note: The device configuration files don't agree on the bit rate (125000, 250000 bit/s), so it isn't taken from them.\n", rates.ErrorText);
    }

    [Fact]
    public void TheReportSaysOnceWhatWasHeardAgainstASheet()
    {
        StringBuilder trace = new();
        for (int i = 0; i < 50; i++)
        {
            trace.Append(System.Globalization.CultureInfo.InvariantCulture, $"(1767776400.{i:D2}0000) can0 185#0{i % 2}00\n");
        }

        Replayed replayed = Replayed.OfText(trace.ToString(), "--protocol", Write("ws-05.dcf", ForNode(5)));
        Assert.Equal(0, replayed.ExitCode);
        Assert.Equal(string.Empty, replayed.Error);
        Assert.Equal("canopen", replayed.Bus.GetProperty("protocol").GetString());
        JsonElement remark = Assert.Single(replayed.Bus.GetProperty("remarks").EnumerateArray().ToArray());
        Assert.Equal("TPDO1 of node 5 has 2 bytes, but by ws-05.dcf it has 1 byte. What was heard wins; nothing is read from this PDO.", remark.GetString());
    }
}
