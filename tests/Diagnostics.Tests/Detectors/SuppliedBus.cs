using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Core.Measuring;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Tests.Detectors;

/// <summary>A quiet bus of which only the supply is measured, by a part that looks 50 ms long, twenty times a second, for detectors whose rule is a figure of its own.</summary>
internal sealed class SuppliedBus
{
    private SuppliedBus(Report report) => Report = report;

    public Report Report { get; }

    /// <param name="limits">Of the settings.</param>
    /// <param name="windows">Of 50 ms each.</param>
    /// <param name="volts">Of each; null = none came.</param>
    /// <param name="framesEverySecond">Whether somebody sends.</param>
    public static SuppliedBus Of(MeasuringLimits limits, int windows, Func<int, double?> volts, bool framesEverySecond = false)
    {
        TimeSpan window = TimeSpan.FromMilliseconds(50);
        Analyzer analyzer = new(new() { SourceKind = "live", SourceName = "can0", BitRate = 125_000, Measuring = limits });
        analyzer.OnInterface(0, new("can0"));
        Instant start = TestBus.Start;
        for (int at = 0; at < windows; at++)
        {
            Instant from = start + (at * window);
            if (at % 20 == 0)
            {
                analyzer.Advance(from);
                if (framesEverySecond || at < 40)
                {
                    analyzer.OnFrame(CanFrame.Classic(from, CanId.Base(0x705), [5]));
                }
            }

            if (volts(at) is double value)
            {
                analyzer.OnMeasurement(new(Quantity.SupplyVolts, from, from + window, value));
            }
        }

        analyzer.Advance(start + (windows * window) + TimeSpan.FromSeconds(1));
        Report whole = analyzer.Snapshot();
        return new(whole with { Findings = [.. whole.Findings.Where(finding => finding.Finding.StartsWith("supply.", StringComparison.Ordinal))] });
    }

    public bool Has(string finding) => Report.Findings.Any(one => one.Finding == finding);

    public FindingReport The(string finding) => Assert.Single(Report.Findings, one => one.Finding == finding);
}
