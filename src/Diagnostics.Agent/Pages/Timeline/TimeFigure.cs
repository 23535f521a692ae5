using System.Globalization;
using System.Text;
using Diagnostics.Agent.Captures;
using Diagnostics.Agent.Chronicles;
using Diagnostics.Can;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages.Timeline;

/// <summary>
/// Draws a stretch of time as SVG, lane under lane on one axis. Lengths across are parts of the width, so that it fits any screen and its letters stay as large as the page's;
/// lengths down are pixels. Colours and lines come from the style sheet; what is drawn differs by shape, too.
/// </summary>
internal sealed class TimeFigure
{
    private const int Title = 17;
    private const int LoadHeight = 84;
    private const int CountHeight = 34;
    private const int MeasuredHeight = 60;
    private const int Gap = 12;
    private const int BarLane = 32;
    private const int NodeLane = 27;
    private const int AxisHeight = 22;

    /// <summary>Lanes of findings and of nodes; a phone's screen each. The rest is told below.</summary>
    private const int MostFindings = 12;
    private const int MostNodes = 16;

    /// <summary>Cells that lanes of bars are divided into, fewer than columns: a bar of one column couldn't be seen.</summary>
    private const int MostCells = 200;

    /// <summary>A span that is narrower has no room for its name, part of the width.</summary>
    private const double RoomForName = 0.2;

    private readonly Stretch _stretch;
    private readonly HtmlWriter _page;
    private readonly Instant _now;
    private readonly int _columnsOfCell;
    private int _y;

    private TimeFigure(HtmlWriter page, Stretch stretch, Instant now)
    {
        _page = page;
        _stretch = stretch;
        _now = now;
        _columnsOfCell = Math.Max(1, (stretch.Count + MostCells - 1) / MostCells);
    }

    /// <param name="page">Where to.</param>
    /// <param name="stretch">What to draw.</param>
    /// <param name="ticks">Of the axis.</param>
    /// <param name="now">What lasts, lasts until now.</param>
    public static void Draw(HtmlWriter page, Stretch stretch, IReadOnlyList<(Instant Time, Sentence Label)> ticks, Instant now)
    {
        // Only when all lanes are drawn is it known how high it is.
        HtmlWriter lanes = new(page.Language);
        TimeFigure figure = new(lanes, stretch, now);
        figure.Lanes();
        page.Literal($"<svg class=\"timeline\" width=\"100%\" height=\"{figure._y + AxisHeight}\" aria-hidden=\"true\"><defs><pattern id=\"not-seen\" width=\"7\" height=\"7\" patternUnits=\"userSpaceOnUse\"><path class=\"hatch\" d=\"M0 7 L7 0\"/></pattern></defs>");

        // Behind all else, so that names of lanes and what is known of the bounds can be read on them.
        figure.OutOfReach(page);
        figure.NotSeen(page);
        foreach ((Instant time, Sentence label) in ticks)
        {
            double x = figure.X(time);
            string at = Percent(x);
            string anchor = x < 0.06 ? "start" : x > 0.94 ? "end" : "middle";
            page.Literal($"<line class=\"grid\" x1=\"{at}\" x2=\"{at}\" y1=\"{AxisHeight - 4}\" y2=\"{figure._y}\"/>");
            foreach (int y in (int[])[13, figure._y + 16])
            {
                page.Literal($"<text class=\"tick\" x=\"{at}\" y=\"{y}\" text-anchor=\"{anchor}\">");
                page.Add($"{label}</text>");
            }
        }

        page.Literal(lanes.ToString());
        page.Literal("</svg>");
    }

    private void Lanes()
    {
        _y = AxisHeight;
        Marks();
        bool isOne = _stretch.Buses.Count == 1;
        foreach (BusStretch bus in _stretch.Buses)
        {
            Load(bus, isOne);
            Counts(
                bus.SeesErrors ? isOne ? Say($"Errors on the wire") : Say($"Errors on {bus.Interface}") : isOne ? Say($"Errors on the wire: can’t be told") : Say($"Errors on {bus.Interface}: can’t be told"),
                "errors",
                column => bus.Columns[column].Errors);
        }

        long[] restarts = new long[_stretch.Count];
        foreach (Instant restart in _stretch.Nodes.SelectMany(node => node.Restarts))
        {
            restarts[_stretch.ColumnOf(restart)]++;
        }

        Counts(Say($"Restarts of nodes"), "restarts", column => restarts[column]);
        foreach (MeasuredStretch measured in _stretch.Measured)
        {
            Measured(measured);
        }

        Findings();
        Nodes();
        Soaks();
    }

    private double X(Instant time) => Math.Clamp(time.SecondsSince(_stretch.From) / _stretch.To.SecondsSince(_stretch.From), 0, 1);

    private double X(int column) => column / (double)_stretch.Count;

    private void Name(Sentence name, string style = "lane")
    {
        _page.Literal($"<text class=\"{style}\" x=\"0\" y=\"{_y + Title - 5}\">");
        _page.Add($"{name}</text>");
        _y += Title;
    }

    private void Marks()
    {
        if (_stretch.Captures.Count == 0)
        {
            return;
        }

        Name(_stretch.Captures.Any(capture => capture.IsMark) ? Say($"Marks and kept frames") : Say($"Kept frames"));
        int y = _y + 2;
        HashSet<int> dots = [];
        foreach (Capture capture in _stretch.Captures.Where(capture => !capture.IsMark && capture.File is not null && dots.Add(_stretch.ColumnOf(capture.Time) / _columnsOfCell)))
        {
            _page.Literal($"<circle class=\"kept\" cx=\"{Percent(X(capture.Time))}\" cy=\"{y + 7}\" r=\"3.5\"/>");
        }

        HashSet<int> flags = [];
        foreach (Capture mark in _stretch.Captures.Where(capture => capture.IsMark && flags.Add(_stretch.ColumnOf(capture.Time) / _columnsOfCell)))
        {
            _page.Literal($"<svg class=\"flag\" x=\"{Percent(X(mark.Time))}\" y=\"{y}\" overflow=\"visible\"><path d=\"M0 18V0l9 4-9 4\"/></svg>");
        }

        _y += 18 + Gap;
    }

    private void Load(BusStretch bus, bool isOne)
    {
        double top = ChartScale.OfLoad(bus.Columns.Max(column => Math.Max(column.LoadMean ?? 0, column.LoadPeak ?? 0)));
        Name(bus.Columns.Any(column => column.LoadMean is not null) ? isOne ? Say($"Load") : Say($"Load of {bus.Interface}")
            : isOne ? Say($"Load: not known without a bit rate") : Say($"Load of {bus.Interface}: not known without a bit rate"));
        _page.Literal($"<svg class=\"plot\" y=\"{_y}\" width=\"100%\" height=\"{LoadHeight}\" viewBox=\"0 0 {_stretch.Count} 100\" preserveAspectRatio=\"none\">");
        StringBuilder mean = new();
        StringBuilder peak = new();
        int? begun = null;
        for (int column = 0; column <= bus.Columns.Count; column++)
        {
            bool isKnown = column < bus.Columns.Count && bus.Columns[column].LoadMean is not null;
            if (isKnown && begun is null)
            {
                begun = column;
                mean.Append(CultureInfo.InvariantCulture, $"M{column} 100");
                Steps(mean, bus, column, value => value.LoadMean, top);
                mean.Append("V100Z");
                peak.Append(CultureInfo.InvariantCulture, $"M{column} {Down(bus.Columns[column].LoadPeak!.Value, top)}");
                Steps(peak, bus, column, value => value.LoadPeak, top);
            }
            else if (!isKnown)
            {
                begun = null;
            }
        }

        // Numbers of our own making, and longer than text from outside may be.
        _page.Literal($"<path class=\"mean\" d=\"{mean}\"/><path class=\"peak\" d=\"{peak}\"/></svg>");
        _page.Literal($"<line class=\"base\" x1=\"0\" x2=\"100%\" y1=\"{_y + LoadHeight}\" y2=\"{_y + LoadHeight}\"/><line class=\"top\" x1=\"0\" x2=\"100%\" y1=\"{_y}\" y2=\"{_y}\"/>");
        _page.Literal($"<text class=\"scale\" x=\"100%\" y=\"{_y + 12}\" text-anchor=\"end\">");
        _page.Add($"{Words.Percent(top)}</text>");

        // Part of what rows tell of wasn't heard: a strip along the top.
        foreach ((int first, int last) in Runs(column => bus.Columns[column].HasHole))
        {
            _page.Literal($"<rect class=\"hole\" fill=\"url(#not-seen)\" x=\"{Percent(X(first))}\" y=\"{_y}\" width=\"{Percent(Math.Max(0.004, X(last + 1) - X(first)))}\" height=\"9\"/>");
        }

        _y += LoadHeight + Gap;
    }

    private static void Steps(StringBuilder path, BusStretch bus, int first, Func<TimeColumn, double?> value, double top)
    {
        int length = 0;
        int? height = null;
        for (int column = first; column <= bus.Columns.Count; column++)
        {
            int? next = column < bus.Columns.Count && value(bus.Columns[column]) is double known ? Down(known, top) : null;
            if (next != height && height is not null)
            {
                path.Append(CultureInfo.InvariantCulture, $"V{height}h{length}");
                length = 0;
            }

            if (next is null)
            {
                break;
            }

            height = next;
            length++;
        }
    }

    private static int Down(double value, double top) => (int)Math.Round(100 - (Math.Clamp(value / top, 0, 1) * 100));

    /// <summary>A band from the lowest to the highest, and the mean in it; where there is no value, there is neither.</summary>
    private void Measured(MeasuredStretch measured)
    {
        const double LeastSpan = 2;
        MeasuredColumn[] known = [.. measured.Columns.OfType<MeasuredColumn>()];
        (double bottom, double top) = ChartScale.OfValues(known.Min(column => column.Lowest), known.Max(column => column.Highest), LeastSpan);
        Name(MeasuredPart.NameOf(measured.Quantity));
        StringBuilder band = new();
        StringBuilder mean = new();
        for (int column = 0; column < measured.Columns.Count; column++)
        {
            if (measured.Columns[column] is not { } value)
            {
                continue;
            }

            band.Append(CultureInfo.InvariantCulture, $"M{column} {Height(value.Highest)}h1V{Height(value.Lowest)}h-1z");
            bool follows = column > 0 && measured.Columns[column - 1] is not null;
            mean.Append(CultureInfo.InvariantCulture, $"{(follows ? "V" : $"M{column} ")}{Height(value.Mean)}h1");
        }

        _page.Literal($"<svg class=\"plot\" y=\"{_y}\" width=\"100%\" height=\"{MeasuredHeight}\" viewBox=\"0 0 {_stretch.Count} 200\" preserveAspectRatio=\"none\"><path class=\"band\" d=\"{band}\"/><path class=\"middle\" d=\"{mean}\"/></svg>");
        _page.Literal($"<line class=\"base\" x1=\"0\" x2=\"100%\" y1=\"{_y + MeasuredHeight}\" y2=\"{_y + MeasuredHeight}\"/><line class=\"top\" x1=\"0\" x2=\"100%\" y1=\"{_y}\" y2=\"{_y}\"/>");
        Scale(_y + 12, top);
        Scale(_y + MeasuredHeight - 4, bottom);
        _y += MeasuredHeight + Gap;

        int Height(double value) => (int)Math.Round(200 - ((value - bottom) / (top - bottom) * 200));

        void Scale(int y, double value)
        {
            _page.Literal($"<text class=\"scale\" x=\"100%\" y=\"{y}\" text-anchor=\"end\">");
            _page.Add($"{(measured.Quantity.EndsWith("Celsius", StringComparison.Ordinal) ? Say($"{value:0.##} °C") : Say($"{value:0.##} V"))}</text>");
        }
    }

    private void Counts(Sentence name, string style, Func<int, long> count)
    {
        long most = 0;
        StringBuilder bars = new();
        for (int column = 0; column < _stretch.Count; column++)
        {
            most = Math.Max(most, count(column));
        }

        double top = ChartScale.OfCounts(most);
        for (int column = 0; column < _stretch.Count; column++)
        {
            if (count(column) is > 0 and long here)
            {
                bars.Append(CultureInfo.InvariantCulture, $"M{column}.5 100V{(int)Math.Min(90, Math.Round(100 - (here / top * 100)))}");
            }
        }

        Name(name);
        if (most > 0)
        {
            _page.Literal($"<svg class=\"plot\" y=\"{_y}\" width=\"100%\" height=\"{CountHeight}\" viewBox=\"0 0 {_stretch.Count} 100\" preserveAspectRatio=\"none\"><path class=\"{style}\" d=\"{bars}\"/></svg>");
            _page.Literal($"<text class=\"scale\" x=\"100%\" y=\"{_y + 2}\" text-anchor=\"end\">");
            _page.Add($"{Words.Count((long)top)}</text>");
            _y += CountHeight;
        }

        _page.Literal($"<line class=\"base\" x1=\"0\" x2=\"100%\" y1=\"{_y}\" y2=\"{_y}\"/>");
        _y += Gap;
    }

    private void Findings()
    {
        if (_stretch.Findings.Count == 0)
        {
            return;
        }

        Name(Say($"Findings"));
        foreach (IGrouping<string, FindingEpisode> finding in _stretch.Findings.GroupBy(episode => episode.Key, StringComparer.Ordinal).Take(MostFindings))
        {
            FindingEpisode worst = finding.First();
            string style = PageRenderer.Class(worst.Severity);
            string shape = Words.Shape(worst.Severity);
            _page.Literal($"<text class=\"what is-{style}\" x=\"0\" y=\"{_y + 12}\">");
            _page.Add($"{shape} {Capital(worst.Summary)}</text>");
            _page.Literal($"<line class=\"rail\" x1=\"0\" x2=\"100%\" y1=\"{_y + 21}\" y2=\"{_y + 21}\"/>");
            foreach ((int first, int last) in Cells(finding.Select(episode => (episode.From, episode.To ?? _now))))
            {
                double from = X(first * _columnsOfCell);
                double width = Math.Max(0.008, Math.Min(1, X(Math.Min(_stretch.Count, (last + 1) * _columnsOfCell))) - from);
                _page.Literal($"<rect class=\"bar is-{style}\" x=\"{Percent(from)}\" y=\"{_y + 17}\" width=\"{Percent(width)}\" height=\"8\"/>");
            }

            _y += BarLane;
        }

        _y += Gap - 4;
    }

    private void Nodes()
    {
        if (_stretch.Nodes.Count == 0)
        {
            return;
        }

        // Those with nothing to tell are one lane together.
        NodeStretch[] alike = [.. _stretch.Nodes.Where(IsPlain)];
        NodeStretch[] others = [.. _stretch.Nodes.Except(alike).OrderByDescending(node => node.IsTroubled).Take(MostNodes).OrderBy(node => node.Interface, StringComparer.Ordinal).ThenBy(node => node.Address)];
        Name(Say($"Nodes"));
        foreach (NodeStretch node in others)
        {
            Node(NameOf(node), node.Cells, node.Restarts, node.Silences);
        }

        if (alike.Length > 0)
        {
            Node(
                others.Length == 0 ? Say(alike.Length, $"1 node, heard all along", $"All {alike.Length:N0} nodes, heard all along") : Say(alike.Length, $"1 other node, heard all along", $"{alike.Length:N0} other nodes, heard all along"),
                alike[0].Cells,
                [],
                []);
        }

        _y += Gap - 4;
    }

    /// <summary>Heard wherever anybody listened.</summary>
    private bool IsPlain(NodeStretch node) => !node.IsTroubled && _stretch.Buses.FirstOrDefault(bus => bus.Interface == node.Interface) is { } bus
        && Enumerable.Range(0, _stretch.Count).All(column => node.Cells[column] == Presence.Heard || !bus.Columns[column].IsSeen);

    private Sentence NameOf(NodeStretch node)
    {
        Sentence called = node.Name is { Length: > 0 } name ? Say($"{node.Address}, {Words.Shortened(name)}") : Say($"node {node.Address}");
        return _stretch.Buses.Count > 1 ? Say($"{called} on {node.Interface}") : called;
    }

    private void Node(Sentence name, IReadOnlyList<Presence> cells, IReadOnlyList<Instant> restarts, IReadOnlyList<(Instant From, Instant? To)> silences)
    {
        _page.Literal($"<text class=\"what\" x=\"0\" y=\"{_y + 12}\">");
        _page.Add($"{name}</text>");
        int middle = _y + 19;
        foreach ((int first, int last, Presence presence) in Runs(cells))
        {
            if (presence is Presence.Heard or Presence.CannotTell)
            {
                _page.Literal($"<line class=\"{(presence == Presence.Heard ? "heard" : "untold")}\" x1=\"{Percent(X(first))}\" x2=\"{Percent(X(last + 1))}\" y1=\"{middle}\" y2=\"{middle}\"/>");
            }
        }

        foreach ((int first, int last) in Cells(silences.Select(silence => (silence.From, silence.To ?? _now))))
        {
            double from = X(first * _columnsOfCell);
            _page.Literal($"<rect class=\"silent\" x=\"{Percent(from)}\" y=\"{middle - 5}\" width=\"{Percent(Math.Max(0.006, X(Math.Min(_stretch.Count, (last + 1) * _columnsOfCell)) - from))}\" height=\"10\"/>");
        }

        foreach ((int first, int last) in Cells(restarts.Select(restart => (restart, restart))))
        {
            string at = Percent(X(first * _columnsOfCell));
            if (first == last)
            {
                _page.Literal($"<svg class=\"restart\" x=\"{at}\" y=\"{middle - 6}\" overflow=\"visible\"><path d=\"M0 10L3.5 2 7 10z\"/></svg>");
            }
            else
            {
                _page.Literal($"<rect class=\"restart\" x=\"{at}\" y=\"{middle - 2}\" width=\"{Percent(X((last + 1) * _columnsOfCell) - X(first * _columnsOfCell))}\" height=\"6\"/>");
            }
        }

        _y += NodeLane;
    }

    private void Soaks()
    {
        foreach (Core.Soak.SoakRecord soak in _stretch.Soaks.TakeLast(2))
        {
            _page.Literal($"<text class=\"what\" x=\"0\" y=\"{_y + 12}\">");
            _page.Add($"{Say($"Soak test: {soak.Name}")}</text>");
            double from = X(soak.Started);
            _page.Literal($"<rect class=\"soak\" x=\"{Percent(from)}\" y=\"{_y + 16}\" width=\"{Percent(Math.Max(0.008, X(soak.End is null ? _now : soak.LastSeen) - from))}\" height=\"8\"/>");
            _y += BarLane;
        }
    }

    private void OutOfReach(HtmlWriter page)
    {
        if (_stretch.Reach is not { First: { } first, Last: { } last })
        {
            Blank(page, 0, 1, Say($"nothing kept"));
            return;
        }

        Blank(page, 0, X(first), Say($"nothing kept"));
        Blank(page, X(last), 1, Say($"not yet"));
    }

    private void Blank(HtmlWriter page, double from, double to, Sentence name)
    {
        if (to - from > 0.001)
        {
            page.Literal($"<rect class=\"beyond\" x=\"{Percent(from)}\" y=\"{AxisHeight - 4}\" width=\"{Percent(to - from)}\" height=\"{_y - AxisHeight + 4}\"/>");
            Named(page, from, to, name);
        }
    }

    private void NotSeen(HtmlWriter page)
    {
        foreach ((int first, int last) in _stretch.NotSeen())
        {
            (double from, double to) = (X(first), X(last + 1));
            page.Literal($"<rect class=\"blind\" fill=\"url(#not-seen)\" x=\"{Percent(from)}\" y=\"{AxisHeight - 4}\" width=\"{Percent(Math.Max(0.003, to - from))}\" height=\"{_y - AxisHeight + 4}\"/>");
            Named(page, from, to, Say($"not seen"));
        }
    }

    private void Named(HtmlWriter page, double from, double to, Sentence name)
    {
        if (to - from >= RoomForName)
        {
            page.Literal($"<text class=\"over\" x=\"{Percent((from + to) / 2)}\" y=\"{AxisHeight + ((_y - AxisHeight) / 3)}\" text-anchor=\"middle\">");
            page.Add($"{name}</text>");
        }
    }

    /// <summary>Spans as runs of cells that they touch.</summary>
    private IEnumerable<(int First, int Last)> Cells(IEnumerable<(Instant From, Instant To)> spans)
    {
        bool[] cells = new bool[((_stretch.Count + _columnsOfCell - 1) / _columnsOfCell) + 1];
        foreach ((Instant from, Instant to) in spans)
        {
            if (to < _stretch.From || from >= _stretch.To)
            {
                continue;
            }

            int last = _stretch.ColumnOf(to) / _columnsOfCell;
            for (int cell = _stretch.ColumnOf(from) / _columnsOfCell; cell <= last; cell++)
            {
                cells[cell] = true;
            }
        }

        int? begin = null;
        for (int cell = 0; cell < cells.Length; cell++)
        {
            if (cells[cell])
            {
                begin ??= cell;
            }
            else if (begin is { } first)
            {
                yield return (first, cell - 1);
                begin = null;
            }
        }
    }

    private IEnumerable<(int First, int Last)> Runs(Func<int, bool> isIn) =>
        Runs([.. Enumerable.Range(0, _stretch.Count).Select(column => isIn(column) ? Presence.Heard : Presence.Nothing)]).Where(run => run.Presence == Presence.Heard).Select(run => (run.First, run.Last));

    private static IEnumerable<(int First, int Last, Presence Presence)> Runs(IReadOnlyList<Presence> cells)
    {
        int first = 0;
        for (int cell = 1; cell <= cells.Count; cell++)
        {
            if (cell == cells.Count || cells[cell] != cells[first])
            {
                yield return (first, cell - 1, cells[first]);
                first = cell;
            }
        }
    }

    private static string Percent(double part) => (part * 100).ToString("0.##", CultureInfo.InvariantCulture) + "%";
}
