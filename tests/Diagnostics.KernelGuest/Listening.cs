using Diagnostics.Agent.Buses;
using Diagnostics.Can;

namespace Diagnostics.KernelGuest;

/// <summary>A source, its queue and a consumer that writes everything down.</summary>
internal sealed class Listening : IFrameSink, IDisposable
{
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(10);

    private readonly string _step;
    private readonly TextWriter _output;
    private readonly List<Observation> _heard = [];
    private readonly BusQueue _queue;
    private readonly SocketCanSource _source;
    private readonly ManualResetEventSlim _running = new(initialState: true);
    private readonly Task _consumer;

    internal Listening(string step, TextWriter output, IReadOnlyList<string> interfaces, SocketCanOptions? options = null, int capacity = BusQueue.DefaultCapacity)
    {
        _step = step;
        _output = output;
        _queue = new(WhenFull.Count, capacity);
        _source = new(interfaces, _queue, options);
        _consumer = Task.Run(Consume);
        _source.Start();
    }

    internal long FramesDropped => _queue.FramesDropped;

    internal int Count(Func<Observation, bool> which)
    {
        lock (_heard)
        {
            return _heard.Count(which);
        }
    }

    /// <summary>The consumer stops before its next batch.</summary>
    internal void Pause() => _running.Reset();

    internal void Continue() => _running.Set();

    /// <summary>Waits until something was heard; false after ten seconds, which the test outside then sees as missing.</summary>
    internal bool Await(Func<Observation, bool> which, int count = 1) => Await(which, count, Patience);

    internal bool Await(Func<Observation, bool> which, int count, TimeSpan patience)
    {
        long end = Environment.TickCount64 + (long)patience.TotalMilliseconds;
        lock (_heard)
        {
            while (_heard.Count(which) < count)
            {
                long left = end - Environment.TickCount64;
                if (left <= 0 || !Monitor.Wait(_heard, (int)left))
                {
                    return _heard.Count(which) >= count;
                }
            }

            return true;
        }
    }

    public void OnInterface(byte index, InterfaceFacts facts) => Add(new(_step, "interface")
    {
        Interface = index,
        Name = facts.Name,
        BitRate = facts.BitRate,
        ListenOnly = facts.ListenOnly,
        State = facts.State?.ToString(),
    });

    public void OnFrame(in CanFrame frame) => Add(new(_step, "frame")
    {
        Interface = frame.Interface,
        Id = frame.IsError ? null : frame.Id.ToString(),
        Flags = frame.Flags.ToString(),
        Code = frame.DataLengthCode,
        Data = Convert.ToHexString(frame.Bytes),
        Classes = frame.ErrorClassBits,
        Time = frame.Time.Nanoseconds,
    });

    public void OnNotSeen(in NotSeen notSeen) => Add(new(_step, "notSeen")
    {
        Interface = notSeen.Interface,
        Name = notSeen.Kind.ToString(),
        Time = notSeen.Start.Nanoseconds,
        End = notSeen.End.Nanoseconds,
        Count = notSeen.Count,
        Text = notSeen.Why,
    });

    public void Dispose()
    {
        _running.Set();
        _source.Dispose();
        _consumer.GetAwaiter().GetResult();
        _source.Completion.GetAwaiter().GetResult();
        lock (_heard)
        {
            _heard.ForEach(observation => _output.WriteLine(observation.ToLine()));
        }

        _output.WriteLine(new Observation(_step, "queue") { Count = _queue.FramesDropped }.ToLine());
    }

    private void Consume()
    {
        for (bool isOver = false; !isOver;)
        {
            if (_queue.Read(Timeout.InfiniteTimeSpan, CancellationToken.None, out isOver) is { } batch)
            {
                _running.Wait();
                batch.DrainTo(this);
                _queue.Recycle(batch);
            }
        }
    }

    private void Add(Observation observation)
    {
        lock (_heard)
        {
            _heard.Add(observation);
            Monitor.PulseAll(_heard);
        }
    }
}
