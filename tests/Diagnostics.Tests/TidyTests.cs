using System.Runtime.CompilerServices;
using System.Text.RegularExpressions;
using Diagnostics.Core.Findings;

namespace Diagnostics.Tests;

/// <summary>What no compiler checks: arrows between folders, sizes, and that each detector is complete.</summary>
public class TidyTests
{
    private const int LongestFile = 800;

    internal static readonly string Root = RootFolder();

    private static IEnumerable<string> Sources(string below) =>
        Directory.EnumerateFiles(Path.Combine(Root, below), "*.cs", SearchOption.AllDirectories)
            .Where(file => !file.Contains("/obj/", StringComparison.Ordinal) && !file.Contains("/bin/", StringComparison.Ordinal));

    [Fact]
    public void NoFileIsTooLong() =>
        Assert.DoesNotContain(Sources("src").Concat(Sources("tests")), file => File.ReadLines(file).Count() > LongestFile);

    [Theory]
    [InlineData("src/Diagnostics.Can", "Diagnostics.Core|Diagnostics.Simulation|Diagnostics.Agent")]
    [InlineData("src/Diagnostics.Core", "Diagnostics.Simulation|Diagnostics.Agent|System.IO|System.Net")]
    [InlineData("src/Diagnostics.Simulation", "Diagnostics.Core|Diagnostics.Agent")]
    [InlineData("src/Diagnostics.Core/Protocols", "Diagnostics.Core.(Detectors|Findings|Diagnosis|Counting|Reporting)")]
    [InlineData("src/Diagnostics.Core/Counting", "Diagnostics.Core.(Detectors|Findings|Diagnosis)")]
    [InlineData("src/Diagnostics.Core/Findings", "Diagnostics.Core.(Detectors|Diagnosis|Counting|Protocols)")]
    [InlineData("src/Diagnostics.Core/Comparison", "Diagnostics.Core.(Protocols|Diagnosis|AsBuilt)")]
    [InlineData("src/Diagnostics.Core/Reporting", "Diagnostics.Core.Comparison")]
    [InlineData("src/Diagnostics.Core/Diagnosis", "Diagnostics.Core.(Detectors|Counting|Protocols)")]
    public void ArrowsPointTheRightWay(string folder, string forbidden)
    {
        Regex using_ = new($@"^using (static )?(\w+ = )?({forbidden})\b", RegexOptions.Multiline);
        Assert.DoesNotContain(Sources(folder), file => using_.IsMatch(File.ReadAllText(file)));
    }

    [Fact]
    public void SimulationCountsItsBitsItself() =>
        Assert.DoesNotContain(Sources("src/Diagnostics.Simulation"), file => Regex.IsMatch(File.ReadAllText(file), @"\bFrameLength\b|\bCrc15\b\.|Diagnostics\.Can\.Traces"));

    [Fact]
    public void ReadmeTableIsTheCatalogue()
    {
        string readme = File.ReadAllText(Path.Combine(Root, "README.md"));
        foreach (FindingKind kind in Catalogue.All)
        {
            Assert.Contains($"| `{kind.Name}` | {kind.Usual.ToString().ToLowerInvariant()} | {kind.RaisedWhen} | {kind.Subject} |", readme, StringComparison.Ordinal);
        }
    }

    [Fact]
    public void ReadmeBeginsWithTheJob() =>
        Assert.StartsWith("Diagnostics listens to the CAN bus", File.ReadAllText(Path.Combine(Root, "README.md")), StringComparison.Ordinal);

    [Fact]
    public void EachDetectorSaysWhatHappensWhenFramesWereLostAndIsTested()
    {
        string[] detectors = [.. Sources("src/Diagnostics.Core/Detectors").Where(file => file.EndsWith("Detector.cs", StringComparison.Ordinal))];
        Assert.NotEmpty(detectors);
        string[] tests = [.. Sources("tests/Diagnostics.Tests/Detectors").Select(file => Path.GetFileNameWithoutExtension(file))];
        foreach (string detector in detectors)
        {
            string name = Path.GetFileNameWithoutExtension(detector);
            Assert.Matches(@"(?is)///.*\blost\b", File.ReadAllText(detector));
            Assert.Contains(name + "Tests", tests);
        }
    }

    [Fact]
    public void TheTopLevelHoldsWhatItShould()
    {
        string[] allowed = ["README.md", "DEVELOPERS.md", "LICENSE", "Diagnostics.sln", "Directory.Build.props", "Directory.Packages.props", "Directory.Build.rsp", "global.json", "TestResults", "src", "tests", "systemd", "scripts"];
        Assert.DoesNotContain(
            Directory.EnumerateFileSystemEntries(Root).Select(entry => Path.GetFileName(entry)!),
            entry => !entry.StartsWith('.') && !allowed.Contains(entry));
    }

    private static string RootFolder([CallerFilePath] string here = "")
    {
        DirectoryInfo? folder = new FileInfo(here).Directory;
        while (folder is not null && !File.Exists(Path.Combine(folder.FullName, "Diagnostics.sln")))
        {
            folder = folder.Parent;
        }

        return folder?.FullName ?? throw new InvalidOperationException("The tests run away from their sources.");
    }
}
