using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Core.Measuring;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Tests.Detectors;

/// <summary>Errors on a bus whose air is measured: damp every other hour, or with a step of temperature now and then.</summary>
public class WeatherEvidenceTests
{
    [Fact]
    public void MoreErrorsInEightDampSpellsAreTold() =>
        Assert.Contains(Of(20, damp: hour => hour % 2 == 1, errors: hour => hour % 2 == 1 ? 40 : 4), text => text.StartsWith("In 8 of 8 damp spells", StringComparison.Ordinal));

    [Fact]
    public void OneLongDampNightProvesNothing()
    {
        string[] rows = Of(20, damp: hour => hour is >= 5 and < 12, errors: hour => hour is >= 5 and < 12 ? 40 : 4);
        Assert.DoesNotContain(rows, text => text.Contains("moisture", StringComparison.Ordinal));
        Assert.Contains(rows, text => text.StartsWith("Whether errors go with damp air", StringComparison.Ordinal));
    }

    [Fact]
    public void ErrorsThatDoNotMindTheAirAreNotLaidToIt() =>
        Assert.DoesNotContain(Of(20, damp: hour => hour % 2 == 1, errors: hour => (hour * 7 % 5) + 20), text => text.Contains("moisture", StringComparison.Ordinal));

    [Fact]
    public void WithoutTheAirNothingIsSaid() =>
        Assert.DoesNotContain(Of(20, damp: null, errors: _ => 40), text => text.Contains("damp", StringComparison.Ordinal));

    [Fact]
    public void ErrorsThatBeginWhereTheTemperatureMovesAreTold() =>
        Assert.Contains(
            Of(20, damp: _ => false, errors: hour => hour % 3 == 1 ? 40 : 0, celsius: hour => hour % 3 == 1 ? 22 : 20),
            text => text.Contains("fell where the temperature moved", StringComparison.Ordinal));

    private static string[] Of(int hours, Func<int, bool>? damp, Func<int, int> errors, Func<int, double>? celsius = null)
    {
        Analyzer analyzer = new(new() { SourceKind = "live", SourceName = "can0", BitRate = 125_000, Protocol = "none" });
        analyzer.OnInterface(0, new("can0") { ErrorReporting = true });
        Instant start = new(1_700_000_400L * 1_000_000_000);
        for (int second = 0; second < hours * 3600; second++)
        {
            Instant now = start + TimeSpan.FromSeconds(second);
            int hour = second / 3600;
            analyzer.OnFrame(CanFrame.Classic(now, CanId.Base(0x123), [1, 2, 3]));
            if (errors(hour) > 0 && second % 3600 % (3600 / errors(hour)) == 30)
            {
                analyzer.OnFrame(CanFrame.ErrorReport(now + TimeSpan.FromMilliseconds(500), 0x88, new byte[] { 0, 0, 4, 0, 0, 0, 0, 0 }));
            }

            if (damp is not null && second % 10 == 0)
            {
                analyzer.OnMeasurement(new(Quantity.AirCelsius, now, now + TimeSpan.FromMilliseconds(10), celsius?.Invoke(hour) ?? 20));
                analyzer.OnMeasurement(new(Quantity.AirHumidityRatio, now, now + TimeSpan.FromMilliseconds(10), damp(hour) ? 0.95 : 0.5));
            }
        }

        Report report = analyzer.Snapshot();
        Assert.Contains(report.Findings, finding => finding.Finding == "bus.error-rate");
        return [.. report.Findings.SelectMany(finding => finding.Evidence).Select(row => row.Text)];
    }
}
