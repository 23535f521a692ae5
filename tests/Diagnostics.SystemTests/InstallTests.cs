namespace Diagnostics.SystemTests;

public sealed class InstallTests : IDisposable
{
    private readonly DirectoryInfo _root = Directory.CreateTempSubdirectory("install");

    public void Dispose() => _root.Delete(recursive: true);

    private string Below(string path) => Path.Combine(_root.FullName, path);

    /// <summary>The program as the tests have it, so that nothing is published here.</summary>
    private async Task<Command> InstallAsync(params string[] further)
    {
        string published = Below("published");
        if (!Directory.Exists(published))
        {
            string built = Repository.PathOf(Path.Combine("src/Diagnostics.Agent/bin", Repository.Configuration, "net10.0"));
            Assert.SkipUnless(File.Exists(Path.Combine(built, "diagnostics")), "The program was not built beside the tests.");
            published = built;
        }

        return await Command.RunAsync(Repository.PathOf("scripts/install"), ["--published", published, "--root", Below("root"), .. further]);
    }

    [Fact]
    public async Task InstallsRunsAndUninstallsWithoutTouchingSettingsAndLog()
    {
        Command installed = await InstallAsync();
        Assert.True(installed.Status == 0, installed.Error);
        Assert.Matches("^copying the program to .* …\n", installed.Output);
        Command version = await Command.RunAsync(Below("root/opt/diagnostics/diagnostics"), "--version");
        Assert.Equal(0, version.Status);
        string[] files =
        [
            "root/opt/diagnostics/set-up-interface", "root/opt/diagnostics/spare-the-card", "root/etc/systemd/system/diagnostics-card.service", "root/etc/systemd/system/diagnostics.service", "root/etc/systemd/system/diagnostics-interface@.service",
            "root/etc/sysusers.d/diagnostics.conf", "root/etc/diagnostics/site.sample.json", "root/opt/diagnostics/as-built.schema.json", "root/opt/diagnostics/comparison.schema.json", "root/etc/diagnostics/agent.json", "root/etc/diagnostics/interface.env",
        ];
        Assert.All(files, file => Assert.True(File.Exists(Below(file)), file));

        // A changed setting and a log of one's own survive an update and the removal.
        await File.WriteAllTextAsync(Below("root/etc/diagnostics/agent.json"), "{ \"port\": 8481 }", TestContext.Current.CancellationToken);
        Directory.CreateDirectory(Below("root/var/lib/diagnostics"));
        await File.WriteAllTextAsync(Below("root/var/lib/diagnostics/events-0000000000000001.seg"), "log", TestContext.Current.CancellationToken);
        Command again = await InstallAsync();
        Assert.True(again.Status == 0, again.Error);
        Assert.False(Directory.Exists(Below("root/opt/diagnostics.old")));

        Command removed = await Command.RunAsync(Repository.PathOf("scripts/uninstall"), "--root", Below("root"));
        Assert.Equal(0, removed.Status);
        Assert.False(Directory.Exists(Below("root/opt/diagnostics")));
        Assert.Empty(Directory.GetFiles(Below("root/etc/systemd/system")));
        Assert.Equal("{ \"port\": 8481 }", await File.ReadAllTextAsync(Below("root/etc/diagnostics/agent.json"), TestContext.Current.CancellationToken));
        Assert.True(File.Exists(Below("root/var/lib/diagnostics/events-0000000000000001.seg")));

        Command purged = await Command.RunAsync(Repository.PathOf("scripts/uninstall"), "--purge", "--root", Below("root"));
        Assert.Equal(0, purged.Status);
        Assert.Empty(Directory.GetFiles(Below("root"), "*", SearchOption.AllDirectories));
    }

    /// <summary>A unit that names a group which isn't there doesn't start, so the groups are those that this system has.</summary>
    [Fact]
    public async Task BoardPartsAreOpenedClosedAndTakenAwayAgain()
    {
        string parts = Below("root/etc/systemd/system/diagnostics.service.d/board-parts.conf");
        Command opened = await InstallAsync("--board-parts", "yes");
        Assert.True(opened.Status == 0, opened.Error);
        string[] lines = await File.ReadAllLinesAsync(parts, TestContext.Current.CancellationToken);
        Assert.Equal(["char-i2c rw", "char-gpiochip rw"], lines.Where(line => line.StartsWith("DeviceAllow=", StringComparison.Ordinal)).Select(line => line["DeviceAllow=".Length..]));
        Assert.Contains("ReadWritePaths=-/media", lines);
        foreach (string group in new[] { "i2c", "gpio" })
        {
            bool isThere = (await Command.RunAsync("getent", "group", group)).Status == 0;
            Assert.Equal(isThere, lines.Contains($"SupplementaryGroups={group}"));
            Assert.Equal(!isThere, opened.Error.Contains($"note: this system has no group '{group}'", StringComparison.Ordinal));
        }

        // An update that says nothing of them leaves them as they are, and a second yes doesn't name the groups twice.
        Assert.Equal(0, (await InstallAsync()).Status);
        Assert.Equal(lines, await File.ReadAllLinesAsync(parts, TestContext.Current.CancellationToken));
        Assert.Equal(0, (await InstallAsync("--board-parts", "yes")).Status);
        Assert.Equal(lines, await File.ReadAllLinesAsync(parts, TestContext.Current.CancellationToken));

        Assert.Equal(0, (await InstallAsync("--board-parts", "no")).Status);
        Assert.False(File.Exists(parts));
        Assert.Equal(0, (await InstallAsync("--board-parts", "yes")).Status);
        Assert.Equal(0, (await Command.RunAsync(Repository.PathOf("scripts/uninstall"), "--root", Below("root"))).Status);
        Assert.False(Directory.Exists(Path.GetDirectoryName(parts)));
    }

    [Theory]
    [InlineData("install", "--board-parts", "perhaps")]
    [InlineData("install", "--root")]
    [InlineData("install", "--rot", "x")]
    [InlineData("install", "--root", "x", "--published", "/nowhere")]
    [InlineData("uninstall", "--root", "")]
    [InlineData("uninstall", "--all")]
    public async Task WrongArgumentsAreRefusedBeforeAnythingIsDone(string script, params string[] arguments)
    {
        Command ran = await Command.RunAsync(Repository.PathOf($"scripts/{script}"), arguments);
        Assert.Equal(2, ran.Status);
        Assert.Matches($"^{script}: [^\n]+\n$", ran.Error);
    }
}
