using System.Text.RegularExpressions;
using Diagnostics.Agent.Pages;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Tests.Pages;

/// <summary>What sensors measured, on the page and in the text report.</summary>
public class MeasuredPartTests
{
    private static readonly Instant Start = SampleReports.Start;
    private static readonly Instant End = SampleReports.End;

    private static QuantityReport Track(string quantity, double last, double lowest, double mean, double highest, double? window = 0.0085, double? seen = 0.02, Instant? at = null) =>
        new(quantity, "V", Start, at ?? End, last, lowest, mean, highest, 1000, window, seen, null, null);

    private static QuantityReport WorkedOut(string quantity, string unit, double value) => new(quantity, unit, Start, End, value, null, null, null, null, null, null, null, null);

    private static PageModel Model(params QuantityReport[] measured) => new(SampleReports.Quiet() with { Measurements = measured }) { Zone = TimeZoneInfo.Utc };

    private static string[] Lines(params QuantityReport[] measured)
    {
        PageModel model = Model(measured);
        return [.. MeasuredPart.Lines(model.Report, model.Times).Select(line => line.English)];
    }

    private static string Value(string quantity, double? value) => MeasuredPart.Value(quantity, value).English;

    [Theory]
    [InlineData("supplyVolts", 23.996, "24.00 V")]
    [InlineData("supplyAmperes", 0.4249, "0.42 A")]
    [InlineData("airCelsius", 21.25, "21.2 °C")]
    [InlineData("airHumidityRatio", 0.414, "41 %")]
    [InlineData("lineDifferenceVolts", -0.004, "0.00 V")]
    [InlineData("supplyAmperes", -0.004, "0.00 A")]
    [InlineData("airCelsius", -0.04, "0.0 °C")]
    [InlineData("airCelsius", -5.06, "-5.1 °C")]
    [InlineData("supplyVolts", null, "–")]
    public void AValueHasItsUnitAndNoMinusBeforeAZero(string quantity, double? value, string told) => Assert.Equal(told, Value(quantity, value));

    [Fact]
    public void EachQuantityHasANameAndAnUnknownOneItsOwn()
    {
        foreach (Core.Measuring.Quantity quantity in Enum.GetValues<Core.Measuring.Quantity>())
        {
            string name = Core.Measuring.Quantities.NameOf(quantity);
            Assert.DoesNotContain("Volts", MeasuredPart.NameOf(name).English, StringComparison.OrdinalIgnoreCase);
            Assert.DoesNotContain("Celsius", MeasuredPart.NameOf(name).English, StringComparison.OrdinalIgnoreCase);
        }

        Assert.Equal("Shield milliamperes", MeasuredPart.NameOf("shieldMilliamperes").English);
    }

    [Fact]
    public void WithoutSensorsThereIsNoSection()
    {
        Assert.DoesNotContain("measured at this board", PageRenderer.Served(Model()), StringComparison.Ordinal);
        Assert.DoesNotContain("measured at this board", TextReport.Render(Model()), StringComparison.Ordinal);
    }

    [Fact]
    public void ThePageHasARowForEachAndTheTextALine()
    {
        PageModel model = Model(Track("supplyVolts", 24.02, 21.3, 23.98, 24.1), Track("airCelsius", -0.02, -3, 4.5, 21));
        string page = PageRenderer.Served(model);
        string[] rows = [.. Regex.Matches(page[page.IndexOf("id=\"measured\"", StringComparison.Ordinal)..], "<tr><th scope=\"row\">(.*?)</tr>").Select(row => Regex.Replace(row.Groups[1].Value, "(<[^>]*>)+", "|"))];
        Assert.Equal("Bus supply|24.02 V|21.30 V|23.98 V|24.10 V|21 Nov, 18:00:00 UTC|", rows[0]);
        Assert.Equal("Air at this board|0.0 °C|-3.0 °C|4.5 °C|21.0 °C|21 Nov, 18:00:00 UTC|", rows[1]);
        string text = TextReport.Render(model);
        Assert.Contains("What was measured at this board\n-------------------------------\n- Bus supply: 24.02 V; 21.30 V to 24.10 V, mean 23.98 V, since 21 Nov, 18:00:00\n  UTC\n- Air at this board: 0.0 °C; ", text, StringComparison.Ordinal);
        Assert.True(text.IndexOf("Who is on the bus", StringComparison.Ordinal) < text.IndexOf("What was measured", StringComparison.Ordinal));
        Assert.All(text.Split('\n'), line => Assert.InRange(line.Length, 0, 80));
    }

    [Fact]
    public void WhichDipShowsIsSaidWithTheSupply()
    {
        Assert.Equal(
            ["One value of the supply is the mean over 8.5 ms. A dip of 20 ms or longer surely shows in full; a shorter one may be deeper than it shows, or not show at all."],
            Lines(Track("supplyVolts", 24, 24, 24, 24)));
        Assert.EndsWith("mean over 8.5 ms: a shorter dip may be deeper than it shows, or not show at all.", Assert.Single(Lines(Track("supplyVolts", 24, 24, 24, 24, seen: null))), StringComparison.Ordinal);
        Assert.Empty(Lines(Track("airCelsius", 20, 20, 20, 20)));
    }

    [Fact]
    public void WhatIsWorkedOutIsSaidOnlyWhereBothHalvesAreThere()
    {
        QuantityReport recessive = WorkedOut("recessiveDifferenceVolts", "V", 0.012);
        QuantityReport dominant = WorkedOut("dominantDifferenceVolts", "V", 2.004);
        Assert.StartsWith("Between the lines: 0.01 V recessive and 2.00 V dominant, to 2 %", Assert.Single(Lines(recessive, dominant)), StringComparison.Ordinal);
        Assert.EndsWith("Edges, ringing and single glitches can’t be seen so.", Lines(recessive, dominant)[0], StringComparison.Ordinal);
        Assert.Empty(Lines(dominant));
        QuantityReport dew = WorkedOut("dewPointCelsius", "°C", 9.04);
        Assert.Equal(["Dew point 9.0 °C, and the air is 12.2 K warmer: whatever is colder than the dew point gets wet."], Lines(dew, WorkedOut("condensationMarginKelvin", "K", 12.21)));
        Assert.Empty(Lines(dew));
    }

    [Fact]
    public void AValueThatNoLongerComesIsSaidAfterAMinute()
    {
        Assert.Empty(Lines(Track("airCelsius", 20, 20, 20, 20, at: End - TimeSpan.FromSeconds(60))));
        Assert.Equal(["Air at this board: no value since 22 Nov, 08:10:59 UTC."], Lines(Track("airCelsius", 20, 20, 20, 20, at: End - TimeSpan.FromSeconds(61))));
    }
}
