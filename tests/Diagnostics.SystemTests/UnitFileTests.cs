using System.Globalization;
using System.Text.Json;
using System.Text.RegularExpressions;

namespace Diagnostics.SystemTests;

public sealed class UnitFileTests
{
    /// <summary>
    /// Of 10; systemd itself calls up to 4 "OK". Ours must reach the network (CAN and the page) and compile while it runs, and gives up the rest; the one that changes a mount sees
    /// the board's mounts for the second that it runs.
    /// </summary>
    [Theory]
    [InlineData("diagnostics.service", 2.5)]
    [InlineData("diagnostics-interface@.service", 2.5)]
    [InlineData("diagnostics-card.service", 3.5)]
    public async Task TheExposureThatSystemdMeasuresIsSmall(string unit, double most)
    {
        string analyze = Analyze();
        Command ran = await Command.RunAsync(analyze, "security", "--offline=true", "--no-pager", Repository.PathOf($"systemd/{unit}"));
        Match overall = Regex.Match(ran.Output, "Overall exposure level for [^:]*: ([0-9.]+)");
        Assert.True(overall.Success, ran.Output + ran.Error);
        Assert.InRange(double.Parse(overall.Groups[1].Value, CultureInfo.InvariantCulture), 0, most);
    }

    [Theory]
    [InlineData("diagnostics.service")]
    [InlineData("diagnostics-interface@.service")]
    [InlineData("diagnostics-card.service")]
    public async Task SystemdUnderstandsEveryLine(string unit)
    {
        string analyze = Analyze();
        DirectoryInfo directory = Directory.CreateTempSubdirectory("units");

        // What is not installed here must not count, so the unit is checked with a program that exists everywhere.
        string copy = Path.Combine(directory.FullName, unit.Replace("@", "@can0", StringComparison.Ordinal));
        string text = await File.ReadAllTextAsync(Repository.PathOf($"systemd/{unit}"), TestContext.Current.CancellationToken);
        await File.WriteAllTextAsync(copy, Regex.Replace(text, "^ExecStart=.*$", "ExecStart=/bin/true", RegexOptions.Multiline), TestContext.Current.CancellationToken);
        Command ran = await Command.RunAsync(analyze, "verify", "--man=no", copy);
        Assert.DoesNotContain(unit.Split('.')[0], string.Join('\n', ran.Error.Split('\n').Where(line => line.Contains("Unknown", StringComparison.Ordinal) || line.Contains("Failed to parse", StringComparison.Ordinal) || line.Contains("Invalid", StringComparison.Ordinal))), StringComparison.Ordinal);
        directory.Delete(recursive: true);
    }

    [Fact]
    public void TheServiceGetsWhatItNeedsAndNoPrivilege()
    {
        string[] lines = File.ReadAllLines(Repository.PathOf("systemd/diagnostics.service"));
        Assert.Contains("RestrictAddressFamilies=AF_CAN AF_NETLINK AF_UNIX AF_INET AF_INET6", lines);
        Assert.Contains("CapabilityBoundingSet=", lines);
        Assert.Contains("Type=notify", lines);
        Assert.Contains(lines, line => line.StartsWith("WatchdogSec=", StringComparison.Ordinal));
        Assert.Contains("ProtectSystem=strict", lines);
        Assert.Contains("StateDirectory=diagnostics", lines);

        // It would stop the runtime's compiler.
        Assert.DoesNotContain("MemoryDenyWriteExecute=yes", lines);
    }

    /// <summary>Of all devices two kinds, by groups, and no privilege: everything else stays as in the unit.</summary>
    [Fact]
    public void PartsOfTheBoardOpenTwoKindsOfDevicesAndNothingElse()
    {
        string[] lines = [.. File.ReadAllLines(Repository.PathOf("systemd/board-parts.conf")).Where(line => line.Length > 0 && line[0] != '#')];
        Assert.Equal(
            [
                "[Service]", "PrivateDevices=no", "DevicePolicy=closed", "DeviceAllow=char-i2c rw", "DeviceAllow=char-gpiochip rw",
                "InaccessiblePaths=", "InaccessiblePaths=-/boot -/mnt -/root -/srv", "ReadWritePaths=-/media",
            ],
            lines);
    }

    /// <summary>The commented example of all that can be fitted is one that the program takes: it is not only prose.</summary>
    [Fact]
    public async Task TheExampleOfTheBoardIsTaken()
    {
        string[] example = [.. File.ReadAllLines(Repository.PathOf("systemd/agent.json")).SkipWhile(line => !line.Contains("\"board\": {", StringComparison.Ordinal)).TakeWhile(line => line.TrimStart().StartsWith("//", StringComparison.Ordinal))];
        string settings = "{" + string.Join('\n', example.Select(line => line.TrimStart()[2..])) + "}";
        DirectoryInfo directory = Directory.CreateTempSubdirectory("board-example");
        string file = Path.Combine(directory.FullName, "agent.json");
        await File.WriteAllTextAsync(file, settings, TestContext.Current.CancellationToken);
        Command ran = await Command.RunAsync("/usr/bin/env", $"DIAGNOSTICS_SETTINGS={file}", Command.Program, "board", "--card");
        directory.Delete(recursive: true);
        Assert.True(ran.Status == 0, ran.Error);
        Assert.Contains("What the light says", ran.Output, StringComparison.Ordinal);
    }

    [Fact]
    public void TheSampleSettingsAreThoseThatTheProgramReads()
    {
        using JsonDocument sample = JsonDocument.Parse(
            File.ReadAllText(Repository.PathOf("systemd/agent.json")),
            new() { CommentHandling = JsonCommentHandling.Skip });
        Assert.Equal(
            ["schema", "interfaces", "bitRate", "protocol", "site", "port", "listenOn", "certificate", "certificateKey", "passcodeFile", "name", "announce", "log", "logMegabytes", "inputDays", "language", "board"],
            sample.RootElement.EnumerateObject().Select(member => member.Name));
    }

    [Fact]
    public async Task SettingUpAnInterfaceRefusesNonsenseBeforeItTouchesAnything()
    {
        Command missing = await Command.RunAsync(Repository.PathOf("systemd/set-up-interface"), "can0");
        Assert.Equal(2, missing.Status);
        Assert.Contains("BIT_RATE is missing", missing.Error, StringComparison.Ordinal);
        Command wrong = await Command.RunAsync("/usr/bin/env", "BIT_RATE=125k", Repository.PathOf("systemd/set-up-interface"), "can0");
        Assert.Equal(2, wrong.Status);
        Assert.Contains("'125k' is no number", wrong.Error, StringComparison.Ordinal);
    }

    private static string Analyze()
    {
        string? analyze = Command.Find("systemd-analyze");
        Assert.SkipWhen(analyze is null, "systemd-analyze (package systemd) is not installed here.");
        return analyze!;
    }
}
