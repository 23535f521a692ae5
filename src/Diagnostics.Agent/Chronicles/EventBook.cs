using Diagnostics.Agent.History;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.Chronicles;

/// <summary>
/// What became of findings and nodes, run by run, as little of it as the time axis needs: a log of years is read once and then kept up to date by what is
/// written. Within a run things are in the order in which they were written; from one run to the next the board's clock may have gone anywhere.
/// </summary>
internal sealed class EventBook
{
    private readonly List<Run> _runs = [];
    private readonly Dictionary<string, string> _texts = new(StringComparer.Ordinal);
    private readonly HashSet<(string Interface, int Address)> _noticed = [];
    private int _episodes;
    private int _nodeEvents;

    public EventBook(IReadOnlyList<LogRun> runs)
    {
        foreach (LogRun run in runs)
        {
            _runs.Add(new(run.Start));
            foreach ((Instant time, FindingReport finding) in run.Findings)
            {
                Add(time, finding);
            }

            foreach (NodeEvent happened in run.NodeEvents)
            {
                Add(happened);
            }
        }

        if (_runs.Count == 0)
        {
            _runs.Add(new(null));
        }
    }

    public IReadOnlyList<Run> Runs => _runs;

    /// <summary>Nodes of which is known when their silence would be noticed: it was some time, or the log says so.</summary>
    public IReadOnlySet<(string Interface, int Address)> Noticed => _noticed;

    /// <summary>A finding as it stood at a moment of the latest run.</summary>
    public void Add(Instant time, FindingReport finding)
    {
        Run run = _runs[^1];
        run.Known(time);
        bool isKnown = run.Latest.TryGetValue(finding.Key, out int place);
        if (isKnown && run.Counts[finding.Key] == finding.Count)
        {
            run.Episodes[place] = run.Episodes[place] with { Severity = Once(finding.Severity), Summary = finding.SummarySaid, To = finding.End };
            return;
        }

        if (isKnown && run.Episodes[place] is { To: null } open)
        {
            run.Episodes[place] = open with { To = time };
        }

        if (_episodes >= Limits.ChronicleEpisodes)
        {
            DropOldest();
        }

        _episodes++;
        run.Latest[finding.Key] = run.Episodes.Count;
        run.Counts[finding.Key] = finding.Count;
        Instant from = isKnown ? time : finding.Start;
        run.Episodes.Add(new(Once(finding.Key), Once(finding.Finding), Once(finding.Severity), finding.SummarySaid, from, finding.End is { } end ? Instant.Max(from, end) : null, false));
    }

    /// <summary>What happened to a node in the latest run.</summary>
    public void Add(NodeEvent happened)
    {
        _runs[^1].Known(happened.Time);

        // Whether it is started or stopped isn't drawn, and would be most of a log.
        if (happened.Kind == NodeEventKind.State || _nodeEvents >= Limits.ChronicleNodeEvents)
        {
            return;
        }

        _nodeEvents++;
        (string, int) key = (Once(happened.Interface), happened.Address);
        if (!_runs[^1].Nodes.TryGetValue(key, out List<NodeEvent>? events))
        {
            events = _runs[^1].Nodes[key] = [];
        }

        events.Add(happened with { Interface = key.Item1, Detail = happened.Kind == NodeEventKind.Appeared && happened.Detail is { } name ? Once(name) : null });
        if (happened.Kind is NodeEventKind.Silent or NodeEventKind.Returned or NodeEventKind.CannotTell or NodeEventKind.CanTell)
        {
            _noticed.Add(key);
        }
    }

    /// <summary>The same few texts come again and again.</summary>
    private string Once(string text) => _texts.TryGetValue(text, out string? known) ? known : _texts[text] = text;

    private void DropOldest()
    {
        Run oldest = _runs.First(run => run.Episodes.Count > 0);
        _episodes -= oldest.Episodes.Count;
        oldest.Forget();
    }

    /// <summary>One run of the service.</summary>
    internal sealed class Run(Instant? start)
    {
        public Instant? Start { get; } = start;

        /// <summary>The first and the last moment that anything in it bears; where its own line isn't the clock on the wall, it may begin before its start.</summary>
        public Instant Begin { get; private set; } = start ?? Instant.MinValue;

        public Instant End { get; private set; } = start ?? Instant.MinValue;

        public List<FindingEpisode> Episodes { get; } = [];

        /// <summary>What happened to each node, in order.</summary>
        public Dictionary<(string Interface, int Address), List<NodeEvent>> Nodes { get; } = [];

        /// <summary>Where the latest episode of a finding is.</summary>
        public Dictionary<string, int> Latest { get; } = new(StringComparer.Ordinal);

        public Dictionary<string, int> Counts { get; } = new(StringComparer.Ordinal);

        public void Known(Instant time)
        {
            Begin = Begin == Instant.MinValue ? time : Instant.Min(Begin, time);
            End = Instant.Max(End, time);
        }

        public void Forget()
        {
            Episodes.Clear();
            Latest.Clear();
            Counts.Clear();
        }
    }
}
