using System.Globalization;
using System.Text.RegularExpressions;
using Diagnostics.Agent.Pages;
using Diagnostics.Core.Reporting;
using Diagnostics.Tests.Pages;

namespace Diagnostics.SystemTests;

/// <summary>What comes out on paper, by the browser that prints and a reader of PDFs that has nothing to do with it.</summary>
public sealed partial class PaperTests : IDisposable
{
    private const string Needs = "needs the Debian packages chromium and poppler-utils";

    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("paper");

    public static bool CanPrint => Command.Find("chromium") is not null && Command.Find("pdfinfo") is not null && Command.Find("pdftotext") is not null;

    public void Dispose() => _directory.Delete(recursive: true);

    private string Place(string name) => Path.Combine(_directory.FullName, name);

    [Fact(Skip = Needs, SkipUnless = nameof(CanPrint))]
    public async Task TheRecordOfARichReportIsAFewSheetsOfA4ThatEndWithASpaceToSign()
    {
        await File.WriteAllBytesAsync(Place("report.json"), ReportJson.ToUtf8(SampleReports.Rich()), TestContext.Current.CancellationToken);
        await File.WriteAllTextAsync(Place("site.json"), """{ "schema": 1, "site": "Wrenfield community library" }""", TestContext.Current.CancellationToken);
        Command printed = await Command.RunAsync(Command.Program, "report", Place("report.json"), "--site", Place("site.json"), "--pdf", Place("record.pdf"));
        Assert.True(printed.Status == 0, printed.Error);

        string facts = (await Command.RunAsync("pdfinfo", "-box", Place("record.pdf"))).Output;
        Assert.Matches(@"Title: +Hand-over record: Wrenfield community library\n", facts);
        Assert.Matches(@"Tagged: +yes\n", facts);
        Assert.Matches(@"JavaScript: +no\n", facts);

        // ISO 216: 210 mm by 297 mm are 595.28 by 841.89 points; the browser counts in 1/96 of an inch.
        Match box = MediaBox().Match(facts);
        Assert.InRange(double.Parse(box.Groups[1].Value, CultureInfo.InvariantCulture), 594.5, 596);
        Assert.InRange(double.Parse(box.Groups[2].Value, CultureInfo.InvariantCulture), 841, 842.7);

        string[] pages = await PagesAsync(Place("record.pdf"));
        Assert.InRange(pages.Length, 4, 6);
        Assert.Contains("Wrenfield community library", pages[0], StringComparison.Ordinal);
        Assert.Contains("The café dimmer (node 7) stopped sending and has not come back.", Unbroken(pages[0]), StringComparison.Ordinal);
        Assert.Contains("380 disturbances in 1,316,000,000 bits", Unbroken(string.Concat(pages)), StringComparison.Ordinal);
        Assert.Contains("Taken over by (name, signature)", pages[^1], StringComparison.Ordinal);
        Assert.DoesNotContain(pages[..^1], page => page.Contains("Taken over by", StringComparison.Ordinal));
        Assert.All(pages.Index(), page => Assert.Matches($@"{page.Index + 1} ?/ ?{pages.Length}$", Unbroken(page.Item).TrimEnd()));

        // No page ends with a heading: what it heads would be on the next.
        Assert.All(pages[..^1], page => Assert.DoesNotContain(Lines(page)[^2], new[] { "What was counted", "Who is on the bus", "What was looked for and not found", "Before you open anything", "What this record can’t say" }));
    }

    [Fact(Skip = Needs, SkipUnless = nameof(CanPrint))]
    public async Task ATableThatGoesOnRepeatsItsHead()
    {
        await File.WriteAllBytesAsync(Place("report.json"), ReportJson.ToUtf8(SampleReports.Crowded()), TestContext.Current.CancellationToken);
        Command printed = await Command.RunAsync(Command.Program, "report", Place("report.json"), "--pdf", Place("record.pdf"));
        Assert.True(printed.Status == 0, printed.Error);
        string[] pages = await PagesAsync(Place("record.pdf"));
        Assert.True(pages.Count(page => page.Contains("Silence", StringComparison.Ordinal) && page.Contains("within 3.5 s", StringComparison.Ordinal)) >= 2);
        Assert.All(pages.Where(page => page.Contains("within 3.5 s", StringComparison.Ordinal)), page => Assert.Contains("State at the", page, StringComparison.Ordinal));
    }

    /// <summary>The page of the screen, too: no forms, no navigation, and marks behind findings.</summary>
    [Fact(Skip = Needs, SkipUnless = nameof(CanPrint))]
    public async Task TheOrdinaryPagePrintsWithoutWhatIsPressed()
    {
        PageModel model = new(SampleReports.Rich()) { CanMark = true, CanAct = true, CanBundle = true, Rows = SampleReports.Rows() };
        await File.WriteAllTextAsync(Place("page.html"), PageRenderer.SelfContained(model), TestContext.Current.CancellationToken);
        Command printed = await Command.RunAsync(
            Chromium.Path, "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", $"--user-data-dir={Place("profile")}", "--no-pdf-header-footer",
            $"--print-to-pdf={Place("page.pdf")}", new Uri(Place("page.html")).AbsoluteUri);
        Assert.True(printed.Status == 0, printed.Error);
        string[] pages = await PagesAsync(Place("page.pdf"));
        Assert.InRange(pages.Length, 4, 8);
        string text = Unbroken(string.Concat(pages));
        Assert.Contains("The café dimmer (node 7) stopped sending and has not come back.", text, StringComparison.Ordinal);
        foreach (string pressed in new[] { "It just happened?", "Set a mark", "Begin one", "Make a bundle", "Go to the content" })
        {
            Assert.DoesNotContain(pressed, text, StringComparison.Ordinal);
        }
    }

    private static async Task<string[]> PagesAsync(string file)
    {
        Command read = await Command.RunAsync("pdftotext", "-layout", file, "-");
        Assert.True(read.Status == 0, read.Error);
        return read.Output.TrimEnd('\f', '\n').Split('\f');
    }

    private static string[] Lines(string page) => [.. page.Split('\n').Select(line => line.Trim()).Where(line => line.Length > 0)];

    private static string Unbroken(string text) => Blanks().Replace(text, " ");

    [GeneratedRegex(@"MediaBox: +0\.00 +0\.00 +([0-9.]+) +([0-9.]+)")]
    private static partial Regex MediaBox();

    [GeneratedRegex(@"\s+")]
    private static partial Regex Blanks();
}
