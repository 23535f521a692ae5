using System.Text;
using Diagnostics.Agent.Bundles;
using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Tests.Pages;

namespace Diagnostics.Tests.Bundles;

/// <summary>A log of the Wrenfield community library as a service leaves it: an earlier run, the last one and its report, a mark with frames, changes of inputs.</summary>
internal static class SampleLog
{
    public const long Cap = 32L * 1024 * 1024;

    public const string Note = "<script>alert(3)</script> hall lights went off";

    public static readonly Instant Noon = SampleReports.End;

    public static readonly byte[] Site = Encoding.UTF8.GetBytes("""{ "schema": 1, "site": "Wrenfield community library", "nodes": [ { "address": 5, "name": "workshop buttons" } ] }""");

    public static FindingReport Earlier { get; } = SampleReports.Rich().Findings[0] with
    {
        Key = "node.silent/can0/node-3",
        Start = SampleReports.Start - TimeSpan.FromDays(2),
        Raised = SampleReports.Start - TimeSpan.FromDays(2),
        End = SampleReports.Start - TimeSpan.FromDays(1),
        Summary = $"{SampleReports.HostileName} went silent two days before.",
    };

    public static TrafficRow[] Rows { get; } = [.. Enumerable.Range(0, 300).Select(minute => new TrafficRow(Noon - TimeSpan.FromMinutes(300 - minute), 60, "can0", 0.125, 0.5, 1000, minute % 3, 4))];

    /// <summary>Ended as it should.</summary>
    public static void Write(string directory)
    {
        using (StoredHistory log = StoredHistory.Open(directory, Cap, Noon - TimeSpan.FromDays(3), TimeProvider.System))
        {
            log.Write(new([Earlier], [], []));
        }

        using (StoredHistory log = StoredHistory.Open(directory, Cap, SampleReports.Start, TimeProvider.System))
        {
            WriteRun(log);
            log.Keep(KeptDocuments.Report, ReportJson.ToUtf8(SampleReports.Rich()));
            log.Keep(KeptDocuments.Settings, SettingsDocument.ToUtf8(new()));
            log.Keep(KeptDocuments.Site, Site);
        }

    }

    /// <summary>What a person did, and nobody else needs to know.</summary>
    public const string Secret = "somebody-came-at-noon";

    public static void WriteRun(IHistory log) => log.Write(new(
        [.. SampleReports.Rich().Findings.Where(finding => finding.Severity != "note")],
        [.. Rows.Select(row => (StoreSeries.Minutes, row))],
        [new(Noon, "can0", 5, NodeEventKind.Appeared, "workshop buttons")])
    {
        Time = Noon,
        Inputs = [new(Noon, Secret, 5, 1, Active: true)],
        Captures = [(new(Noon, Note, IsMark: true) { Story = new("One change of inputs.", [new(Noon, Secret)]) }, Encoding.ASCII.GetBytes("frames of the mark")), (new(Noon, SampleReports.Rich().Findings[0].Key, IsMark: false), Encoding.ASCII.GetBytes("frames of the finding"))],
    });

    public static BundleContent Content(string directory, bool withoutInputs = false) => KeptLog.ContentOf(directory, withoutInputs, new UtcClock());

    public static async Task<BundleManifest> BundleAsync(string directory, string file, bool withoutInputs = false)
    {
        await using FileStream target = File.Create(file);
        return await BundleWriter.WriteAsync(target, Content(directory, withoutInputs), TestContext.Current.CancellationToken);
    }
}
