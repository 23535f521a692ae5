using Diagnostics.Can;
using Diagnostics.Core.Measuring;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Boards.Sensors;

/// <summary>
/// One sensor on a thread of its own. Opening it or reading it may hang for ever: then this thread is lost until the call comes back, and only this one; <see cref="Look"/>, called by somebody else, notices.
/// </summary>
/// <param name="plan">Which sensor.</param>
/// <param name="line">The time line of the frames; null until there is one.</param>
/// <param name="queue">Where values go.</param>
/// <param name="tell">What is worth telling: whether it is good news, a sentence. From two threads, one at a time.</param>
/// <param name="show">How the sensor stands.</param>
/// <param name="clock">For pauses.</param>
internal sealed class SensorRunner(SensorPlan plan, Func<Instant?> line, SensorQueue queue, Action<bool, Sentence> tell, Action<SensorState> show, TimeProvider clock)
{
    private readonly Lock _lock = new();
    private readonly SensorHealth _health = new(plan.Name, plan.Part);
    private readonly long _began = clock.GetTimestamp();
    private readonly Dictionary<Quantity, Measurement> _latest = [];
    private readonly PauseSchedule _pauses = new(plan.Pause, plan.Spread, (int)plan.Kind);
    private long _shown;
    private long _busySince;

    public BoardEventKind Kind => plan.Kind;

    /// <summary>Starts the thread, which ends when it is told to and nothing hangs.</summary>
    public void Start(CancellationToken stopping)
    {
        Show();
        Ending end = new(stopping);
        new Thread(() => Run(end)) { IsBackground = true, Name = $"sensor {plan.Kind}" }.Start();
    }

    /// <summary>Whether a call into the sensor has not come back for too long. Called once a second, by another thread.</summary>
    public void Look()
    {
        long since = Volatile.Read(ref _busySince);
        if (since != 0 && clock.GetElapsedTime(since) >= Limits.SensorHangs)
        {
            Tell(_health.OnHang);
        }
    }

    private void Run(Ending end)
    {
        ISensor? sensor = null;
        while (!end.HasCome)
        {
            TimeSpan pause = _pauses.Next();
            try
            {
                if (line() is null)
                {
                    pause = Limits.SourcePatience;
                }
                else
                {
                    Volatile.Write(ref _busySince, Math.Max(1, clock.GetTimestamp()));
                    sensor ??= plan.Open();
                    IReadOnlyList<SensorValue> values = sensor.Read(() => line() ?? default);
                    Volatile.Write(ref _busySince, 0);
                    Give(values);
                }
            }
            catch (Exception problem)
            {
                // Drivers and bindings throw whatever they like, and an exception that left this thread would end the program.
                Volatile.Write(ref _busySince, 0);
                Sentence why = problem is SensorDoubtException doubt ? doubt.Why : Say($"it does not answer ({Named(SettingException.OneLine(problem.Message.TrimEnd('.')))})");
                Tell(() => _health.OnFailure(why));
                Close(ref sensor);
                pause = _health.Condition == SensorCondition.InTrouble ? plan.Retry : Limits.SourcePatience;
            }

            end.Wait(pause);
        }

        Close(ref sensor);
    }

    private void Give(IReadOnlyList<SensorValue> values)
    {
        if (values.Count == 0)
        {
            return;
        }

        foreach (SensorValue value in values)
        {
            Measurement measurement = value.ToMeasurement();
            queue.Add(measurement);
            lock (_lock)
            {
                _latest[measurement.Quantity] = measurement;
            }
        }

        SensorCondition before = _health.Condition;
        Tell(() => _health.OnGood(clock.GetElapsedTime(_began)));

        // A hundred values a second are for the analysis; people read two.
        if (before != _health.Condition || clock.GetElapsedTime(_shown) >= Limits.ShowSensor)
        {
            Show();
        }
    }

    private void Tell(Func<(bool IsOver, Sentence Text)?> judge)
    {
        lock (_lock)
        {
            if (judge() is not { } news)
            {
                return;
            }

            tell(news.IsOver, news.Text);
        }

        Show();
    }

    private void Show()
    {
        lock (_lock)
        {
            _shown = clock.GetTimestamp();
            show(new(plan.Kind, plan.Name, plan.Part, _health.Condition, _health.Trouble, _health.Trouble is null ? [.. _latest.Values.OrderBy(value => value.Quantity)] : []));
        }
    }

    /// <summary>A part that is gone can't be put to rest either.</summary>
    private static void Close(ref ISensor? sensor)
    {
        try
        {
            sensor?.Dispose();
        }
        catch (Exception problem) when (problem is IOException or TimeoutException or InvalidOperationException)
        {
        }

        sensor = null;
    }
}
