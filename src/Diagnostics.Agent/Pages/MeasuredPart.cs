using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages;

/// <summary>What sensors on the board measured. Only where something was: a board without sensors lacks nothing.</summary>
internal static class MeasuredPart
{
    private static readonly TimeSpan Stale = TimeSpan.FromMinutes(1);

    private static readonly Dictionary<string, Sentence> Names = new(StringComparer.Ordinal)
    {
        ["supplyVolts"] = Say($"Bus supply"),
        ["supplyAmperes"] = Say($"Current of the bus supply"),
        ["lineHighVolts"] = Say($"CAN_H, on average"),
        ["lineLowVolts"] = Say($"CAN_L, on average"),
        ["lineDifferenceVolts"] = Say($"CAN_H above CAN_L, on average"),
        ["airCelsius"] = Say($"Air at this board"),
        ["airHumidityRatio"] = Say($"Humidity of the air"),
        ["boardCelsius"] = Say($"Processor of this board"),
    };

    public static void Write(HtmlWriter page, PageModel model)
    {
        Report report = model.Report;
        if (report.Measurements.Count == 0)
        {
            return;
        }

        page.Add($"<section class=\"measured\" id=\"measured\"><h2>{Say($"What was measured at this board")}</h2>");
        page.Add($"<table><thead><tr><th scope=\"col\">{Say($"Quantity")}</th><th scope=\"col\">{Say($"Last")}</th><th scope=\"col\">{Say($"Lowest")}</th><th scope=\"col\">{Say($"Mean")}</th><th scope=\"col\">{Say($"Highest")}</th><th scope=\"col\">{Say($"Since")}</th></tr></thead><tbody>");
        foreach (QuantityReport track in Tracks(report))
        {
            page.Add($"<tr><th scope=\"row\">{NameOf(track.Quantity)}</th><td data-label=\"{Say($"Last")}\">{Value(track.Quantity, track.Last)}</td><td data-label=\"{Say($"Lowest")}\">{Value(track.Quantity, track.Lowest)}</td><td data-label=\"{Say($"Mean")}\">{Value(track.Quantity, track.Mean)}</td>");
            page.Add($"<td data-label=\"{Say($"Highest")}\">{Value(track.Quantity, track.Highest)}</td><td data-label=\"{Say($"Since")}\"><time datetime=\"{Times.Machine(track.Since)}\">{model.Times.Short(track.Since)}</time></td></tr>");
        }

        page.Literal("</tbody></table>");
        foreach (Sentence line in Lines(report, model.Times))
        {
            page.Add($"<p>{line}</p>");
        }

        page.Literal("</section>");
    }

    /// <summary>What was measured, without what is worked out from it.</summary>
    public static IEnumerable<QuantityReport> Tracks(Report report) => report.Measurements.Where(quantity => quantity.Count is not null);

    /// <summary>As a person says it; others by their name.</summary>
    public static Sentence NameOf(string quantity) => Names.TryGetValue(quantity, out Sentence? name) ? name : Named(Words.Capital(Words.Spaced(quantity)));

    /// <summary>With its unit, as fine as the parts are good for, and no minus before a zero.</summary>
    public static Sentence Value(string quantity, double? value) => value is not double known ? Named("–")
        : quantity.EndsWith("Ratio", StringComparison.Ordinal) ? Words.Percent(known)
        : quantity.EndsWith("Amperes", StringComparison.Ordinal) ? Say($"{Math.Round(known, 2) + 0.0:0.00} A")
        : quantity.EndsWith("Celsius", StringComparison.Ordinal) ? Say($"{Math.Round(known, 1) + 0.0:0.0} °C")
        : Say($"{Math.Round(known, 2) + 0.0:0.00} V");

    /// <summary>What values can't show, what is worked out from them, and which no longer come.</summary>
    public static IEnumerable<Sentence> Lines(Report report, Times times)
    {
        if (Of("supplyVolts") is { WindowSeconds: double window } supply)
        {
            yield return supply.SurelySeenSeconds is double seen
                ? Say($"One value of the supply is the mean over {Times.Span(window)}. A dip of {Times.Span(seen)} or longer surely shows in full; a shorter one may be deeper than it shows, or not show at all.")
                : Say($"One value of the supply is the mean over {Times.Span(window)}: a shorter dip may be deeper than it shows, or not show at all.");
        }

        if (Of("recessiveDifferenceVolts") is { } recessive && Of("dominantDifferenceVolts") is { } dominant)
        {
            yield return Say($"Between the lines: {recessive.Last:0.00} V recessive and {dominant.Last:0.00} V dominant, to 2 %, worked out from averages and from how long the bus was dominant in each. Edges, ringing and single glitches can’t be seen so.");
        }

        if (Of("dewPointCelsius") is { } dew && Of("condensationMarginKelvin") is { } margin)
        {
            yield return Say($"Dew point {dew.Last:0.0} °C, and the air is {margin.Last:0.0} K warmer: whatever is colder than the dew point gets wet.");
        }

        foreach (QuantityReport track in Tracks(report).Where(track => report.Source.End is { } end && end - track.At > Stale))
        {
            yield return Say($"{NameOf(track.Quantity)}: no value since {times.Short(track.At)}.");
        }

        QuantityReport? Of(string name) => report.Measurements.FirstOrDefault(quantity => quantity.Quantity == name);
    }
}
