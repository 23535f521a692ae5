using System.Text.Json;
using System.Text.Json.Nodes;
using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Core.Measuring;
using Diagnostics.Core.Reporting;
using Diagnostics.Simulation;

namespace Diagnostics.Tests.Detectors;

/// <summary>
/// A site with sensors on our board: it is simulated on its wire, cable and supply, and what adapter and sensors give goes straight into the analysis, as a trace holds no voltages.
/// </summary>
internal sealed class Measured : IGaugeSink, IFrameSink
{
    public static readonly MeasuringLimits TwentyFourVolts = new() { NominalSupplyVolts = 24 };

    private readonly Analyzer _analyzer;
    private Report? _report;

    private Measured(Site site, MeasuringLimits limits) =>
        _analyzer = new(new() { SourceKind = "simulated", SourceName = site.Name, BitRate = site.BitRate, Measuring = limits });

    public Report Report => _report ??= _analyzer.Snapshot();

    public string[] Accusations => [.. Report.Findings.Where(finding => finding.Severity != "note").Select(finding => finding.Finding)];

    /// <summary>The library on a working morning, with its supply, and nobody's fault but these.</summary>
    public static Site Library(IReadOnlyList<GaugePlan> gauges, params Fault[] faults) =>
        Replayed.Library(faults) with { Supply = WrenfieldLibrary.Supply, Gauges = gauges };

    public static Measured Of(Site site, TimeSpan length, MeasuringLimits? limits = null)
    {
        Measured measured = new(site, limits ?? TwentyFourVolts);
        SiteSimulation simulation = new(site);
        simulation.Attach((IGaugeSink)measured);
        simulation.Run(measured, length);
        measured._analyzer.Advance(simulation.Now + TimeSpan.FromSeconds(1));
        byte[] document = ReportJson.ToUtf8(measured.Report);
        Assert.True(PublishedSchemas.Report.Accepts(JsonNode.Parse(document)));
        Replayed.KeepsTheContract(JsonDocument.Parse(document).RootElement);
        return measured;
    }

    public FindingReport The(string finding)
    {
        FindingReport[] all = [.. Report.Findings.Where(one => one.Finding == finding)];
        Assert.True(all.Length == 1, $"{all.Length} findings {finding}; raised: {string.Join(", ", Report.Findings.Select(one => one.Key))}");
        return all[0];
    }

    public bool Has(string finding) => Report.Findings.Any(one => one.Finding == finding);

    public QuantityReport Quantity(string name) => Report.Measurements.Single(one => one.Quantity == name);

    public static double Value(FindingReport finding, string measurement) => finding.Measurements.Single(one => one.Name == measurement).Value;

    public void OnReading(in GaugeReading reading) =>
        _analyzer.OnMeasurement(new(Enum.Parse<Quantity>(reading.Gauge.ToString()), reading.Start, reading.End, reading.Value));

    public void OnInterface(byte index, InterfaceFacts facts) => _analyzer.OnInterface(index, facts);

    public void OnFrame(in CanFrame frame) => _analyzer.OnFrame(frame);

    public void OnNotSeen(in NotSeen notSeen) => _analyzer.OnNotSeen(notSeen);
}
