using Diagnostics.Agent;
using Diagnostics.Agent.Commands;

namespace Diagnostics.Tests.Commands;

public sealed class AsBuiltFileTests : IDisposable
{
    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("as-built");

    public void Dispose() => _directory.Delete(recursive: true);

    private string Write(string text)
    {
        string path = Path.Combine(_directory.FullName, "site.json");
        File.WriteAllText(path, text);
        return path;
    }

    [Fact]
    public void ARecordIsReadFromItsFile() =>
        Assert.Equal("Wrenfield community library", AsBuiltFile.Read(Write("{ \"schema\": 1, \"site\": \"Wrenfield community library\" }"), "site").Record.Site);

    [Fact]
    public void WhatIsWrongInItIsToldWithTheSettingAndTheLine()
    {
        string message = Assert.Throws<SettingException>(() => AsBuiltFile.Read(Write("{ \"schema\": 1,\n \"bitRate\": \"fast\" }"), "site (from the option --site)")).Message;
        Assert.StartsWith("site (from the option --site): ", message, StringComparison.Ordinal);
        Assert.Contains("line 2", message, StringComparison.Ordinal);
        Assert.DoesNotContain('\n', message);
    }

    [Fact]
    public void AFileThatIsNotThereIsToldAsSuch() =>
        Assert.Contains("no such file", Assert.Throws<SettingException>(() => AsBuiltFile.Read(Path.Combine(_directory.FullName, "none.json"), "site")).Message, StringComparison.Ordinal);

    [Fact]
    public void ADirectoryIsNoRecord() => Assert.Throws<SettingException>(() => AsBuiltFile.Read(_directory.FullName, "site"));

    [Fact]
    public void ADeviceThatNeverEndsIsRefused()
    {
        Assert.SkipUnless(File.Exists("/dev/zero"), "There is no /dev/zero here.");
        Assert.Throws<SettingException>(() => AsBuiltFile.Read("/dev/zero", "site"));
        Assert.Contains("it is a device, not a file", Assert.Throws<SettingException>(() => ConfigurationFile.ReadObject("/dev/zero", "settings")).Message, StringComparison.Ordinal);
    }
}
