using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.History;

/// <summary>
/// Stands before the analysis while a trace is replayed and looks at its totals each time the trace passes a full step, so that the page can draw
/// load and errors over time. The step begins at 10 s and doubles while there are more rows than a chart has room for; the analysis sees every frame as before.
/// </summary>
internal sealed class LoadSampler : IFrameSink
{
    private const double FirstStepSeconds = 10;

    private readonly Analyzer _analyzer;
    private readonly TrafficMeter _meter = new();
    private List<TrafficRow> _rows = [];
    private long _stepNanoseconds = (long)(FirstStepSeconds * 1e9);
    private Instant? _stepStart;
    private Instant _stepEnd;

    public LoadSampler(Analyzer analyzer) => _analyzer = analyzer;

    public IReadOnlyList<TrafficRow> Rows => _rows;

    public double StepSeconds => _stepNanoseconds / 1e9;

    public void OnInterface(byte index, InterfaceFacts facts) => _analyzer.OnInterface(index, facts);

    public void OnNotSeen(in NotSeen notSeen) => _analyzer.OnNotSeen(in notSeen);

    public void OnFrame(in CanFrame frame)
    {
        if (_stepStart is null)
        {
            Begin(frame.Time);
        }
        else if (frame.Time >= _stepEnd)
        {
            Take(_analyzer.Snapshot(), _stepEnd);
            Begin(frame.Time);
        }

        _analyzer.OnFrame(in frame);
    }

    /// <summary>The trace is over: the last, shorter step.</summary>
    public void Finish(Report report)
    {
        if (_stepStart is { } start && report.Source.End is { } end && end > start)
        {
            Take(report, end);
        }
    }

    /// <summary>A step begins at the full step before the frame, but not before the end of the last one.</summary>
    private void Begin(Instant time)
    {
        long full = time.Nanoseconds - (((time.Nanoseconds % _stepNanoseconds) + _stepNanoseconds) % _stepNanoseconds);
        bool isFirst = _stepStart is null;
        _stepStart = isFirst ? time : _stepEnd;
        _stepEnd = new(full + _stepNanoseconds);
    }

    private void Take(Report report, Instant end)
    {
        Instant start = _stepStart!.Value;
        _rows.AddRange(_meter.Close(report, start, end.SecondsSince(start)));
        if (_rows.Count > 2 * Limits.ChartPoints * Math.Max(1, report.Buses.Count))
        {
            _stepNanoseconds *= 2;
            _rows = Halve(_rows);
        }
    }

    /// <summary>Joins each pair of neighbouring rows of one interface.</summary>
    public static List<TrafficRow> Halve(IReadOnlyList<TrafficRow> rows)
    {
        List<TrafficRow> halved = [];
        foreach (IGrouping<string, TrafficRow> bus in rows.GroupBy(row => row.Interface))
        {
            TrafficRow? waiting = null;
            foreach (TrafficRow row in bus)
            {
                if (waiting is null)
                {
                    waiting = row;
                    continue;
                }

                halved.Add(waiting.With(row));
                waiting = null;
            }

            if (waiting is not null)
            {
                halved.Add(waiting);
            }
        }

        return halved;
    }
}
