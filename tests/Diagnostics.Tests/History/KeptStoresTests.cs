using Diagnostics.Agent.Boards;
using Diagnostics.Agent.Bundles;
using Diagnostics.Agent.Captures;
using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Soak;
using Diagnostics.Tests.Pages;

namespace Diagnostics.Tests.History;

/// <summary>
/// Logs that earlier versions wrote, as bundles under tests/stores, one for each format that was ever in use. Each must open for ever, and everything in it must be found.
/// <c>scripts/keep-store</c> writes one with today's version; do so whenever a payload or the format of segments changed.
/// </summary>
public sealed class KeptStoresTests : IDisposable
{
    private const long Cap = 32L << 20;

    private static readonly Instant Noon = Instant.FromDateTime(new DateTimeOffset(2026, 11, 26, 12, 0, 0, TimeSpan.Zero));

    /// <summary>The first run believed that it were an hour earlier, until it was told.</summary>
    private static readonly TimeSpan Correction = TimeSpan.FromHours(1);

    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("kept-stores");

    public void Dispose() => _directory.Delete(recursive: true);

    private static string Folder => Path.Combine(TidyTests.Root, "tests", "stores");

    private static readonly FindingReport Finding = SampleReports.Rich().Findings[0] with { Start = Noon, Raised = Noon, End = null, Count = 2, Evidence = [new(Noon, "seen")] };

    private static readonly NodeEvent Node = new(Noon, "can0", 5, NodeEventKind.Silent, null);

    private static readonly Story Story = new("From 60 s before to 10 s after: one change of inputs.", [new(Noon, "“door, upper” became active")]);

    private static readonly BoardEvent Board = new(Noon, BoardEventKind.SupplyLow, false, "The supply of this board is too low.");

    private static readonly InputEvent Input = new(Noon, "can0", 5, 1, true) { More = 3 };

    private static readonly SoakRecord Soak = new()
    {
        Id = "20261126-120000",
        Name = "weekend",
        Rules = new() { Fails = ["fault", "node.restarted"], MostErrorRatio = 1e-8, MostRestarts = 2 },
        AskedSeconds = 3600,
        ListenedSeconds = 1800,
        Started = Noon,
        LastSeen = Noon + TimeSpan.FromMinutes(30),
        Source = "can0",
        Buses = [new("can0", 125_000, new(1800, 9000, 1e6, 1, 0), [new(5, "workshop buttons", true)])],
        Findings = [new() { Key = "node.silent/can0/node-5", Finding = "node.silent", Severity = "fault", Summary = "Workshop buttons stopped.", Start = Noon, Episodes = 1 }],
        Interruptions = [new(Noon, null)],
        LostFrames = 7,
    };

    private static TrafficRow Row(double seconds) =>
        new(Noon, seconds, "can0", 0.125, 0.5, 1000, 2, 4) { HeardSeconds = seconds, Bits = 9e5, ErrorEpisodes = 1, Restarts = 1 };

    private static readonly (StoreSeries Tier, TrafficRow Row)[] Rows =
        [(StoreSeries.Seconds, Row(1)), (StoreSeries.Minutes, Row(60)), (StoreSeries.Quarters, Row(900)), (StoreSeries.Hours, Row(3600))];

    /// <summary>Writes it; run by the script only.</summary>
    [Fact(Explicit = true)]
    public async Task KeepTheStoreOfThisVersion()
    {
        using (StoredHistory log = StoredHistory.Open(_directory.FullName, Cap, Noon, TimeProvider.System))
        {
            log.Write(new([Finding], Rows, [Node])
            {
                Time = Noon,
                Captures = [(new(Noon, "it just happened", IsMark: true) { Story = Story }, SampleCapture())],
                WallMinusLine = Correction,
                Soaks = [Soak],
                Inputs = [Input],
                Board = [Board],
            });
        }

        using (StoredHistory.Open(_directory.FullName, Cap, Noon + TimeSpan.FromDays(1), TimeProvider.System))
        {
        }

        Directory.CreateDirectory(Folder);
        string file = Path.Combine(Folder, $"{Agent.Commands.CommandLine.Version}-format-{SegmentFormat.Version}-{Noon.WholeSecond.ToString()[..10]}.zip");
        await using FileStream target = new(file, FileMode.CreateNew);
        await BundleWriter.WriteAsync(target, KeptLog.ContentOf(_directory.FullName, withoutInputs: false, TimeProvider.System), TestContext.Current.CancellationToken);
    }

    public static TheoryData<string> Kept() => [.. Directory.GetFiles(Folder, "*.zip").Select(file => Path.GetFileName(file)).Order(StringComparer.Ordinal)];

    [Fact]
    public void ThereIsOne() => Assert.NotEmpty(Kept());

    [Theory]
    [MemberData(nameof(Kept))]
    public void EverythingInItIsFound(string name)
    {
        BundleReader.Extract(Path.Combine(Folder, name), _directory.FullName);
        using (StoredHistory read = StoredHistory.OpenReadOnly(_directory.FullName, TimeProvider.System))
        {
            Check(read);
        }

        // And the service goes on with it.
        using StoredHistory log = StoredHistory.Open(_directory.FullName, Cap, Noon + TimeSpan.FromDays(2), TimeProvider.System, TimeSpan.FromDays(366));
        Check(log);
        Assert.DoesNotContain(log.Remarks, remark => remark.English.Contains("damaged", StringComparison.Ordinal) || remark.English.Contains("missing.", StringComparison.Ordinal));
    }

    private static void Check(StoredHistory log)
    {
        Instant from = Noon;
        Instant to = Noon + TimeSpan.FromHours(2);
        FindingReport finding = Assert.Single(log.ReadFindings());
        Assert.Equal((Finding.Key, Finding.Count, Noon + Correction, Finding.Summary), (finding.Key, finding.Count, finding.Start, finding.Summary));
        Assert.Equal(Finding.Causes, finding.Causes);
        Assert.Equal([Node with { Time = Noon + Correction }], log.ReadNodeEvents(from, to));
        foreach ((StoreSeries tier, TrafficRow row) in Rows)
        {
            Assert.Equal([row with { Start = Noon + Correction }], log.ReadRows(tier, from, to));
        }

        Capture capture = Assert.Single(log.ReadCaptures());
        Assert.Equal((true, "it just happened", Noon + Correction), (capture.IsMark, capture.Why, capture.Time));
        Assert.NotNull(capture.File);
        Assert.Equal((Story.Summary, Noon + Correction), (capture.Story!.Summary, Assert.Single(capture.Story.Events).Time));
        Assert.Equal([Input with { Time = Noon + Correction }], log.ReadInputEvents(from, to));
        Assert.Equal([Board with { Time = Noon + Correction }], log.ReadBoardEvents());
        Assert.Equal(Text(Soak), Text(Assert.Single(log.ReadSoaks())));

        static string Text(SoakRecord soak) => System.Text.Json.JsonSerializer.Serialize(soak, HistoryJson.Default.SoakRecord);
    }

    /// <summary>One section header of pcapng (draft-ietf-opsawg-pcapng, 4.1), which is a whole file.</summary>
    private static byte[] SampleCapture() => [0x0A, 0x0D, 0x0D, 0x0A, 28, 0, 0, 0, 0x4D, 0x3C, 0x2B, 0x1A, 1, 0, 0, 0, 255, 255, 255, 255, 255, 255, 255, 255, 28, 0, 0, 0];
}
