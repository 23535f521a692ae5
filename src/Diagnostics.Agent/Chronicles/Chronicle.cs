using Diagnostics.Agent.Boards;
using Diagnostics.Agent.Captures;
using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Soak;

namespace Diagnostics.Agent.Chronicles;

/// <summary>
/// Answers one question: what happened between two moments, in at most so many columns. The coarsest tier that is no longer than a column is read, finer ones
/// where that one has room (the hour that is just going on, what the end of a run cut short), and coarser ones where the finer have been let go. What no row covers is not
/// seen, never zero. Hours and events are read once and kept up to date by what is written, so that a year opens as fast as a minute. One owner, one thread.
/// </summary>
internal sealed class Chronicle(IChronicleSource source)
{
    /// <summary>Columns never end in the middle of a row: each of these is a multiple of a tier's rows.</summary>
    private static readonly int[] Steps = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 10_800, 21_600, 43_200, 86_400, 172_800, 604_800];

    private static readonly (StoreSeries Tier, int Seconds)[] Tiers = [(StoreSeries.Seconds, 1), (StoreSeries.Minutes, 60), (StoreSeries.Quarters, 900), (StoreSeries.Hours, 3600)];

    /// <summary>Holes that are looked into with a finer tier, the latest: a board that is switched off every evening has hundreds in a year, and each is a search.</summary>
    private const int MostHoles = 16;

    private EventBook? _events;
    private List<TrafficRow>? _hours;
    private MeasuredHours? _measuredHours;
    private IReadOnlyList<Capture>? _captures;
    private IReadOnlyList<BoardEvent>? _board;
    private IReadOnlyList<SoakRecord>? _soaks;
    private (Instant? First, Instant? Last)? _reach;
    private TimeSpan _wallMinusLine;

    /// <summary>Rises with everything that is more than traffic going on.</summary>
    public long Version { get; private set; }

    /// <summary>The length of columns for a span; the shortest of which there are at most so many.</summary>
    public static TimeSpan StepFor(TimeSpan span, int columns)
    {
        foreach (int step in Steps)
        {
            // The beginning may lie in the middle of a column.
            if (span.TotalSeconds / step <= columns - 1)
            {
                return TimeSpan.FromSeconds(step);
            }
        }

        return TimeSpan.FromSeconds(Math.Ceiling(span.TotalSeconds / (columns - 1) / Steps[^1]) * Steps[^1]);
    }

    /// <summary>Reads ahead what a question would wait for.</summary>
    public void Prepare()
    {
        _ = Events;
        _ = Hours;
        _ = Reach;
        _captures ??= source.ReadCaptures();
        _board ??= source.ReadBoardEvents();
        _soaks ??= source.ReadSoaks();
    }

    /// <summary>A batch was written to the source.</summary>
    public void OnWritten(HistoryBatch batch)
    {
        if (batch.WallMinusLine is { } correction)
        {
            // Every time of this run is another now.
            _wallMinusLine = correction;
            (_events, _hours, _measuredHours, _reach, _captures, _board) = (null, null, null, null, null, null);
        }

        Version += batch.IsUrgent ? 1 : 0;
        foreach ((_, TrafficRow row) in batch.Rows)
        {
            _reach = _reach is { } reach ? (reach.First ?? row.Start + _wallMinusLine, Later(reach.Last, row.End + _wallMinusLine)) : null;
        }

        foreach (FindingReport finding in batch.Findings)
        {
            _events?.Add(Instant.Max(finding.Raised, batch.Time) + _wallMinusLine, finding.Moved(_wallMinusLine));
        }

        foreach (NodeEvent happened in batch.NodeEvents)
        {
            _events?.Add(happened with { Time = happened.Time + _wallMinusLine });
        }

        _hours?.AddRange(batch.Rows.Where(row => row.Tier == StoreSeries.Hours).Select(row => row.Row with { Start = row.Row.Start + _wallMinusLine }));
        foreach (MeasuredRow row in batch.Measured)
        {
            _measuredHours?.Add(row with { Start = row.Start + _wallMinusLine });
        }

        _captures = batch.Captures.Count > 0 ? null : _captures;
        _board = batch.Board.Count > 0 ? null : _board;
        _soaks = batch.Soaks.Count > 0 ? null : _soaks;
    }

    /// <param name="from">Where it begins; the first column may begin earlier.</param>
    /// <param name="to">Behind <paramref name="from"/>.</param>
    /// <param name="columns">At most so many, at least two.</param>
    /// <exception cref="HistoryException">The log can't be read.</exception>
    public Stretch Of(Instant from, Instant to, int columns)
    {
        TimeSpan step = StepFor(to - from, columns);
        long length = step.Ticks * 100;
        Instant begin = new((long)Math.Floor(from.Nanoseconds / (double)length) * length);
        int count = (int)Math.Clamp(Math.Ceiling(to.NanosecondsSince(begin) / (double)length), 1, columns);
        Stretch stretch = new(begin, step, count) { Reach = Reach };
        IReadOnlyList<BusStretch> buses = BusesOf(stretch);
        stretch = stretch with { Buses = buses };
        return stretch with
        {
            Measured = MeasuredOf(stretch),
            Nodes = NodesOf(stretch),
            Findings = FindingsOf(stretch),
            Captures = [.. (_captures ??= source.ReadCaptures()).Where(capture => IsWithin(capture.Time))],
            Board = [.. (_board ??= source.ReadBoardEvents()).Where(happened => IsWithin(happened.Time))],
            Soaks = [.. (_soaks ??= source.ReadSoaks()).Where(soak => soak.Started < stretch.To && soak.LastSeen > begin)],
            Starts = [.. Events.Runs.Select(run => run.Start).OfType<Instant>().Where(IsWithin)],
        };

        bool IsWithin(Instant time) => time >= begin && time < stretch.To;
    }

    private EventBook Events => _events ??= new(source.ReadRuns());

    private List<TrafficRow> Hours => _hours ??= [.. source.ReadRows(StoreSeries.Hours, StoredHistory.Earliest, StoredHistory.Latest)];

    /// <summary>Where rows are, it ends with the latest of them: what has no row yet, because its minute goes on, is neither seen nor missed.</summary>
    private (Instant? First, Instant? Last) Reach
    {
        get
        {
            if (_reach is null)
            {
                (Instant? first, Instant? last) = source.ReadReach();
                Instant[] ends = last is { } known ? [.. Enumerable.Range(0, Tiers.Length).SelectMany(tier => Rows(tier, known, known + TimeSpan.FromTicks(1))).Select(row => row.End)] : [];
                _reach = (first, ends.Length > 0 ? ends.Max() : last);
            }

            return _reach.Value;
        }
    }

    private static Instant Later(Instant? one, Instant other) => one is { } known ? Instant.Max(known, other) : other;

    private IReadOnlyList<BusStretch> BusesOf(Stretch stretch)
    {
        ColumnFiller columns = new(stretch.From, stretch.Step, stretch.Count);
        if (Reach is not { First: { } first, Last: { } last })
        {
            return [];
        }

        int place = Array.FindLastIndex(Tiers, tier => tier.Seconds <= stretch.Step.TotalSeconds);
        columns.Add(Rows(place, stretch.From, stretch.To), areLast: false);
        first = Instant.Max(first, stretch.From);
        last = Instant.Min(last, stretch.To);
        for (int finer = place - 1; finer >= 0; finer--)
        {
            // A hole that is longer than a row of the tier before was off; only its ends may have been cut short.
            TimeSpan edge = TimeSpan.FromSeconds(Tiers[finer + 1].Seconds);

            // Where such an end is a small part of a column, only what is just going on is looked for.
            int holes = edge * 4 < stretch.Step ? 1 : MostHoles;
            foreach ((Instant from, Instant to) in columns.Open(first, last).TakeLast(holes).Where(hole => holes > 1 || hole.To == last).ToArray())
            {
                if (to - from <= 2 * edge + stretch.Step)
                {
                    columns.Add(Rows(finer, from, to), areLast: false);
                }
                else
                {
                    columns.Add(Rows(finer, from, from + edge + stretch.Step), areLast: false);
                    columns.Add(Rows(finer, to - edge - stretch.Step, to), areLast: false);
                }
            }
        }

        for (int coarser = place + 1; coarser < Tiers.Length; coarser++)
        {
            if (columns.Open(first, last).Any())
            {
                columns.Add(Rows(coarser, stretch.From, stretch.To), areLast: true);
            }
        }

        return columns.ToStretches();
    }

    private IReadOnlyList<MeasuredStretch> MeasuredOf(Stretch stretch)
    {
        const int Minute = 60;
        MeasuredFiller columns = new(stretch.From, stretch.Step, stretch.Count);
        if (stretch.Step >= TimeSpan.FromHours(1))
        {
            (_measuredHours ??= new(source.ReadMeasured(StoredHistory.Earliest, StoredHistory.Latest))).Fill(columns);
            return columns.ToStretches();
        }

        foreach (MeasuredRow row in source.ReadMeasured(stretch.From - TimeSpan.FromSeconds(Minute), stretch.To))
        {
            foreach (MeasuredMinute value in row.Values)
            {
                columns.Add(row.Start, Minute, Minute, value);
            }
        }

        return columns.ToStretches();
    }

    /// <summary>Rows of a tier that lie in a span or reach into it.</summary>
    private IEnumerable<TrafficRow> Rows(int place, Instant from, Instant to)
    {
        (StoreSeries tier, int seconds) = Tiers[place];

        // Of what lay between two snapshots rows are longer than their tier says.
        Instant begin = from - TimeSpan.FromSeconds(Math.Max(2 * seconds, 60));
        return tier == StoreSeries.Hours
            ? Hours.Where(row => row.Start >= begin && row.Start < to)
            : source.ReadRows(tier, begin, to);
    }

    private List<NodeStretch> NodesOf(Stretch stretch)
    {
        SortedDictionary<(string Interface, int Address), NodeTale> nodes = [];
        IReadOnlyList<EventBook.Run> runs = Events.Runs;
        for (int place = 0; place < runs.Count; place++)
        {
            EventBook.Run run = runs[place];
            Instant end = place + 1 < runs.Count ? Instant.Max(run.End, runs[place + 1].Begin) : StoredHistory.Latest;
            if (run.Nodes.Count == 0 || run.Begin >= stretch.To || end <= stretch.From)
            {
                continue;
            }

            foreach (((string Interface, int Address) key, List<NodeEvent> events) in run.Nodes)
            {
                if (!nodes.TryGetValue(key, out NodeTale? tale))
                {
                    tale = nodes[key] = new(stretch);
                }

                tale.Tell(events, end);
            }
        }

        Blank(stretch, nodes, Events.Noticed);
        return [.. nodes.Where(node => node.Value.IsThere).Select(node => node.Value.ToStretch(node.Key.Interface, node.Key.Address))];
    }

    /// <summary>
    /// Nothing is known where nobody listened. Where fewer nodes were present than are thought to have been, it can't be told of those whose silence was never noticed: they may have nothing to notice it by.
    /// </summary>
    private static void Blank(Stretch stretch, SortedDictionary<(string Interface, int Address), NodeTale> nodes, IReadOnlySet<(string, int)> noticed)
    {
        foreach (BusStretch bus in stretch.Buses)
        {
            ((string Interface, int Address) Key, NodeTale Tale)[] its = [.. nodes.Where(node => node.Key.Interface == bus.Interface).Select(node => (node.Key, node.Value))];
            bool isDoubtful = false;
            for (int column = stretch.Count - 1; column >= 0; column--)
            {
                TimeColumn traffic = bus.Columns[column];
                int heard = 0;
                foreach ((_, NodeTale tale) in its)
                {
                    heard += tale.Cells[column] == Presence.Heard && tale.AtEnd[column] == Presence.Heard ? 1 : 0;
                }

                // A row counts at its end; of columns that it merely reaches over the same is thought.
                isDoubtful = traffic.IsSeen && (traffic.NodesPresent is { } present ? heard > present : isDoubtful);
                foreach (((string, int) key, NodeTale tale) in its)
                {
                    if (!traffic.IsSeen)
                    {
                        tale.Cells[column] = Presence.Nothing;
                    }
                    else if (isDoubtful && tale.Cells[column] == Presence.Heard && !noticed.Contains(key))
                    {
                        tale.Cells[column] = Presence.CannotTell;
                    }
                }
            }
        }
    }

    private List<FindingEpisode> FindingsOf(Stretch stretch)
    {
        List<FindingEpisode> found = [];
        IReadOnlyList<EventBook.Run> runs = Events.Runs;
        for (int place = 0; place < runs.Count; place++)
        {
            bool isLast = place == runs.Count - 1;
            foreach (FindingEpisode episode in runs[place].Episodes)
            {
                // A finding that lasts when its run ends lasted until then, at least.
                FindingEpisode told = episode is { To: null } && !isLast
                    ? episode with { To = Instant.Max(episode.From, LastSeen(stretch, runs[place].End, runs[place + 1].Begin)), EndsWithRun = true }
                    : episode;
                if (told.From < stretch.To && (told.To is not { } to || to >= stretch.From))
                {
                    found.Add(told);
                }
            }
        }

        return [.. found.OrderBy(episode => RankOf(episode.Severity)).ThenBy(episode => episode.From)];
    }

    /// <summary>The end of the last column before the next run of which rows tell.</summary>
    private static Instant LastSeen(Stretch stretch, Instant least, Instant next)
    {
        if (next <= stretch.From || stretch.Buses.Count == 0)
        {
            return least;
        }

        for (int column = next >= stretch.To ? stretch.Count - 1 : stretch.ColumnOf(next) - 1; column >= 0 && stretch.StartOf(column) > least; column--)
        {
            if (stretch.Buses.Any(bus => bus.Columns[column].IsSeen))
            {
                return Instant.Min(next, stretch.StartOf(column + 1));
            }
        }

        return least;
    }

    private static int RankOf(string severity) => severity switch { "fault" => 0, "warning" => 1, _ => 2 };

    /// <summary>What becomes of one node while its events are gone through.</summary>
    private sealed class NodeTale(Stretch stretch)
    {
        private readonly List<Instant> _restarts = [];
        private readonly List<(Instant From, Instant? To)> _silences = [];
        private string? _name;

        public Presence[] Cells { get; } = new Presence[stretch.Count];

        /// <summary>At the moment at which each column ends, which is what rows count; a change just then is counted already.</summary>
        public Presence[] AtEnd { get; } = new Presence[stretch.Count];

        public bool IsThere => _restarts.Count > 0 || _silences.Count > 0 || Cells.Any(cell => cell != Presence.Nothing);

        /// <param name="events">Of one run, in order.</param>
        /// <param name="end">Of that run.</param>
        public void Tell(List<NodeEvent> events, Instant end)
        {
            Presence presence = Presence.Nothing;
            Instant since = StoredHistory.Earliest;
            foreach (NodeEvent happened in events)
            {
                Instant at = Instant.Min(happened.Time, end);
                Fill(presence, since, at);
                bool isHere = at >= stretch.From && at < stretch.To;
                switch (happened.Kind)
                {
                    case NodeEventKind.Appeared:
                        _name = happened.Detail ?? _name;
                        break;
                    case NodeEventKind.Restarted when isHere:
                        _restarts.Add(at);
                        break;
                }

                Presence next = happened.Kind switch
                {
                    NodeEventKind.Silent => Presence.Silent,
                    NodeEventKind.CannotTell => Presence.CannotTell,
                    NodeEventKind.Restarted when presence == Presence.CannotTell => presence,
                    _ => Presence.Heard,
                };
                if (presence == Presence.Silent && next != Presence.Silent)
                {
                    Note(since, at);
                }

                since = presence == Presence.Silent && next == Presence.Silent ? since : at;
                presence = next;
            }

            Fill(presence, since, end);
            if (presence == Presence.Silent)
            {
                Note(since, end >= StoredHistory.Latest ? null : end);
            }
        }

        public NodeStretch ToStretch(string name, int address) => new(name, address, _name, Cells, _restarts, _silences);

        private void Note(Instant from, Instant? to)
        {
            if (from < stretch.To && (to is not { } end || end > stretch.From))
            {
                _silences.Add((from, to));
            }
        }

        private void Fill(Presence presence, Instant from, Instant to)
        {
            for (int column = from <= stretch.From ? 0 : Math.Max(0, stretch.ColumnOf(from) - 1); column < stretch.Count && stretch.StartOf(column + 1) < to; column++)
            {
                AtEnd[column] = stretch.StartOf(column + 1) >= from ? presence : AtEnd[column];
            }

            if (stretch.Reach.Last is { } known)
            {
                to = Instant.Min(to, known);
            }

            if (presence == Presence.Nothing || to <= from || from >= stretch.To || to <= stretch.From)
            {
                return;
            }

            int last = to >= stretch.To ? stretch.Count - 1 : stretch.ColumnOf(new(to.Nanoseconds - 1));
            for (int column = stretch.ColumnOf(from); column <= last; column++)
            {
                Cells[column] = presence > Cells[column] ? presence : Cells[column];
            }
        }
    }
}
