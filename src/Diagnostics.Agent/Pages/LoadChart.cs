using System.Globalization;
using Diagnostics.Agent.History;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages;

/// <summary>
/// Draws load and errors of one interface over time as SVG: load above (mean as an area, the busiest second as a line), errors below as bars, and what was not
/// seen as a hatched strip. Colours come from the style sheet, so that it can be read on light and dark. Sized for a phone and scaled up.
/// </summary>
internal static class LoadChart
{
    private const double Width = 400;
    private const double Height = 252;
    private const double Left = 44;
    private const double Right = 8;
    private const double LoadTop = 22;
    private const double LoadBottom = 132;
    private const double ErrorTop = 164;
    private const double ErrorBottom = 216;

    /// <summary>The limit from which the load counts as high (the catalogue's bus.load-high).</summary>
    private const double HighLoadRatio = 0.7;

    /// <summary>Rows of one interface as at most <see cref="Limits.ChartPoints"/> points.</summary>
    public static IReadOnlyList<TrafficRow> Points(IReadOnlyList<TrafficRow> rows, string name)
    {
        List<TrafficRow> points = rows.Where(row => row.Interface == name).ToList();
        while (points.Count > Limits.ChartPoints)
        {
            points = LoadSampler.Halve(points);
        }

        return points;
    }

    /// <summary>The picture in a sentence, for who can't see it and above it for everyone.</summary>
    public static Sentence Describe(BusReport bus, IReadOnlyList<TrafficRow> points, Times times)
    {
        if (points.Count == 0)
        {
            return Say($"No stretch of time is complete yet.");
        }

        Sentence load = Say($"The load is not known without a bit rate.");
        TrafficRow[] known = points.Where(point => point.LoadMean is not null).ToArray();
        if (known.Length > 0)
        {
            TrafficRow busiest = known.MaxBy(point => point.LoadPeak ?? point.LoadMean)!;
            Sentence least = Words.Percent(known.Min(point => point.LoadMean!.Value));
            Sentence most = Words.Percent(known.Max(point => point.LoadMean!.Value));
            Sentence peak = Words.Percent(busiest.LoadPeak ?? busiest.LoadMean);
            load = least == most
                ? Say($"Load about {most}; the busiest second had {peak}, near {times.Short(busiest.Start)}.")
                : Say($"Load between {least} and {most}; the busiest second had {peak}, near {times.Short(busiest.Start)}.");
        }

        long errors = points.Sum(point => point.Errors);
        TrafficRow worst = points.MaxBy(point => point.Errors)!;
        Sentence when = times.Short(worst.Start);
        return Join(load, errors switch
        {
            0 when bus.ErrorReporting == true || bus.ErrorMessages > 0 => Say($"No errors on the wire."),
            0 => Say($"Whether there were errors can’t be told."),
            1 => Say($"One error on the wire, near {when}."),
            _ when worst.Errors < errors => Say($"{errors:N0} errors on the wire, at most {worst.Errors:N0} in one stretch, near {when}."),
            _ => Say($"{errors:N0} errors on the wire, near {when}."),
        });
    }

    /// <param name="page">Where to.</param>
    /// <param name="bus">The interface.</param>
    /// <param name="number">Tells this picture's parts from those of others on the page.</param>
    /// <param name="points">At least one.</param>
    /// <param name="notSeen">Gaps of any interface.</param>
    /// <param name="times">How times are said.</param>
    public static void Draw(HtmlWriter page, BusReport bus, int number, IReadOnlyList<TrafficRow> points, NotSeenReport notSeen, Times times)
    {
        Instant from = points[0].Start;
        Instant to = points[^1].End;
        double span = Math.Max(1, to.SecondsSince(from));
        double X(Instant time) => Left + (Math.Clamp(time.SecondsSince(from) / span, 0, 1) * (Width - Left - Right));
        double top = ChartScale.OfLoad(points.Max(point => Math.Max(point.LoadMean ?? 0, point.LoadPeak ?? 0)));
        double Y(double load) => LoadBottom - (Math.Clamp(load / top, 0, 1) * (LoadBottom - LoadTop));

        page.Add($"<svg class=\"chart\" viewBox=\"0 0 {Width} {Height}\" role=\"img\" aria-label=\"{Describe(bus, points, times)}\">");
        page.Add($"<defs><pattern id=\"hatch-{number}\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\"><path class=\"hatch\" d=\"M0 6 L6 0\"/></pattern></defs>");
        page.Add($"<text class=\"axis-title\" x=\"{Left}\" y=\"12\">{Say($"Load, % of what the bus can carry")}</text>");
        foreach (double part in (double[])[0, 0.5, 1])
        {
            double y = Y(part * top);
            page.Add($"<path class=\"grid\" d=\"M{Left} {y} H{Width - Right}\"/><text class=\"tick\" text-anchor=\"end\" x=\"{Left - 5}\" y=\"{y + 4}\">{Percent(part * top)}</text>");
        }

        foreach (GapReport gap in notSeen.Gaps.Where(gap => (gap.Interface is null || gap.Interface == bus.Interface) && gap.End > from && gap.Start < to))
        {
            double x = X(gap.Start);
            double width = Math.Max(1.5, X(gap.End) - x);
            page.Add($"<rect class=\"gap\" fill=\"url(#hatch-{number})\" x=\"{x}\" y=\"{LoadTop}\" width=\"{width}\" height=\"{LoadBottom - LoadTop}\"/>");
            page.Add($"<rect class=\"gap\" fill=\"url(#hatch-{number})\" x=\"{x}\" y=\"{ErrorTop}\" width=\"{width}\" height=\"{ErrorBottom - ErrorTop}\"/>");
        }

        DrawLoad(page, points, X, Y);
        if (top >= HighLoadRatio)
        {
            double y = Y(HighLoadRatio);
            page.Add($"<path class=\"limit\" d=\"M{Left} {y} H{Width - Right}\"/><text class=\"tick\" text-anchor=\"end\" x=\"{Width - Right}\" y=\"{y - 4}\">{Say($"70 %: crowded")}</text>");
        }

        DrawErrors(page, points, X);
        DrawTime(page, from, to, X, times);
        page.Literal("</svg>");
    }

    private static void DrawLoad(HtmlWriter page, IReadOnlyList<TrafficRow> points, Func<Instant, double> x, Func<double, double> y)
    {
        foreach (List<TrafficRow> run in Runs(points.Where(point => point.LoadMean is not null)))
        {
            string area = $"M{Fixed(x(run[0].Start))} {Fixed(LoadBottom)}";
            string peak = string.Empty;
            foreach (TrafficRow point in run)
            {
                string mean = Fixed(y(point.LoadMean!.Value));
                area += $" L{Fixed(x(point.Start))} {mean} L{Fixed(x(point.End))} {mean}";
                string high = Fixed(y(point.LoadPeak ?? point.LoadMean.Value));
                peak += $"{(peak.Length == 0 ? "M" : " L")}{Fixed(x(point.Start))} {high} L{Fixed(x(point.End))} {high}";
            }

            area += $" L{Fixed(x(run[^1].End))} {Fixed(LoadBottom)} Z";

            // Numbers of our own making, and longer than text from outside may be.
            page.Literal($"<path class=\"mean\" d=\"{area}\"/><path class=\"peak\" d=\"{peak}\"/>");
        }
    }

    private static void DrawErrors(HtmlWriter page, IReadOnlyList<TrafficRow> points, Func<Instant, double> x)
    {
        double most = ChartScale.OfCounts(points.Max(point => point.Errors));
        page.Add($"<text class=\"axis-title\" x=\"{Left}\" y=\"{ErrorTop - 10}\">{Say($"Errors on the wire, in {Times.Span(points.Max(point => point.Seconds))}")}</text>");
        page.Add($"<path class=\"grid\" d=\"M{Left} {ErrorTop} H{Width - Right}\"/><path class=\"grid\" d=\"M{Left} {ErrorBottom} H{Width - Right}\"/>");
        page.Add($"<text class=\"tick\" text-anchor=\"end\" x=\"{Left - 5}\" y=\"{ErrorTop + 4}\">{Words.Count((long)most)}</text><text class=\"tick\" text-anchor=\"end\" x=\"{Left - 5}\" y=\"{ErrorBottom + 4}\">0</text>");
        foreach (TrafficRow point in points.Where(point => point.Errors > 0))
        {
            double left = x(point.Start);
            double width = Math.Max(1.5, x(point.End) - left - 0.5);
            double height = Math.Max(2, point.Errors / most * (ErrorBottom - ErrorTop));
            page.Add($"<rect class=\"errors\" x=\"{left}\" y=\"{ErrorBottom - height}\" width=\"{width}\" height=\"{height}\"/>");
        }
    }

    private static void DrawTime(HtmlWriter page, Instant from, Instant to, Func<Instant, double> x, Times times)
    {
        foreach ((Instant time, Sentence label) in times.Ticks(from, to))
        {
            double position = x(time);
            string anchor = position > Width - Right - 16 ? "end" : position < Left + 12 ? "start" : "middle";
            page.Add($"<path class=\"mark\" d=\"M{position} {ErrorBottom} v5\"/><text class=\"tick\" text-anchor=\"{anchor}\" x=\"{position}\" y=\"{ErrorBottom + 17}\">{label}</text>");
        }

        page.Add($"<text class=\"axis-title\" text-anchor=\"end\" x=\"{Width - Right}\" y=\"{Height - 2}\">{times.AxisTitle}</text>");
    }

    /// <summary>Stretches that touch; a hole between two rows stays a hole in the picture.</summary>
    private static IEnumerable<List<TrafficRow>> Runs(IEnumerable<TrafficRow> points)
    {
        List<TrafficRow> run = [];
        foreach (TrafficRow point in points)
        {
            if (run.Count > 0 && point.Start.SecondsSince(run[^1].End) > 1)
            {
                yield return run;
                run = [];
            }

            run.Add(point);
        }

        if (run.Count > 0)
        {
            yield return run;
        }
    }

    private static Sentence Percent(double ratio) => Say($"{ratio * 100:0.#} %");

    private static string Fixed(double number) => number.ToString("0.#", CultureInfo.InvariantCulture);
}
