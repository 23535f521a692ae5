using Diagnostics.Agent.Buses;
using Diagnostics.Can;

namespace Diagnostics.Tests.Buses;

public class BusQueueTests
{
    /// <summary>Writes down what it hears, one short text each.</summary>
    private sealed class Notes : IFrameSink
    {
        public List<string> Lines { get; } = [];

        public void OnInterface(byte index, InterfaceFacts facts) => Lines.Add($"interface {index} {facts.Name} {facts.BitRate}");

        public void OnFrame(in CanFrame frame) => Lines.Add($"frame {frame.Time.Nanoseconds}");

        public void OnNotSeen(in NotSeen notSeen) =>
            Lines.Add($"{notSeen.Kind} {notSeen.Interface} {notSeen.Start.Nanoseconds}-{notSeen.End.Nanoseconds} {notSeen.Count}");
    }

    private static CanFrame FrameAt(long time) => CanFrame.Classic(new(time), CanId.Base(0x185), [1]);

    private static NotSeen Missed(NotSeenKind kind, long start, long end, long count = 0, byte index = 0) => new(kind, index, new(start), new(end), count, "test");

    private static List<string> DrainAll(BusQueue queue)
    {
        Notes notes = new();
        while (queue.TryRead(out FrameBatch? batch))
        {
            batch.DrainTo(notes);
            if (batch.Tick is { } tick)
            {
                notes.Lines.Add($"tick {tick.Nanoseconds}");
            }

            queue.Recycle(batch);
        }

        return notes.Lines;
    }

    [Fact]
    public void EverythingComesOutInItsOrder()
    {
        BusQueue queue = new(WhenFull.Count);
        queue.OnInterface(0, new("can0") { BitRate = 125_000 });
        queue.OnFrame(FrameAt(1));
        queue.OnNotSeen(Missed(NotSeenKind.KernelDropped, 1, 5, 3));
        queue.OnFrame(FrameAt(5));
        queue.OnTick(new(6));
        Assert.Equal(["interface 0 can0 125000", "frame 1", "KernelDropped 0 1-5 3", "frame 5", "tick 6"], DrainAll(queue));
    }

    [Fact]
    public void FramesBeyondOneBatchFillTheNext()
    {
        BusQueue queue = new(WhenFull.Count);
        int count = (3 * FrameBatch.Capacity) + 7;
        for (int i = 0; i < count; i++)
        {
            queue.OnFrame(FrameAt(i));
        }

        queue.Flush();
        Assert.Equal(Enumerable.Range(0, count).Select(i => $"frame {i}"), DrainAll(queue));
    }

    [Fact]
    public void FullQueueDropsFramesAndSaysSoAtTheNextBatch()
    {
        BusQueue queue = new(WhenFull.Count, capacity: 1);
        queue.OnFrame(FrameAt(1));
        queue.Flush();
        queue.OnFrame(FrameAt(2));
        queue.OnFrame(FrameAt(3));
        queue.Flush();
        queue.OnFrame(FrameAt(4));
        queue.Flush();
        Assert.Equal(3, queue.FramesDropped);
        Assert.Equal(["frame 1"], DrainAll(queue));

        queue.OnFrame(FrameAt(5));
        queue.Flush();
        Assert.Equal(["QueueDropped 255 2-4 3", "frame 5"], DrainAll(queue));
    }

    [Fact]
    public void FullQueueLosesNoRemark()
    {
        BusQueue queue = new(WhenFull.Count, capacity: 1);
        queue.OnFrame(FrameAt(1));
        queue.Flush();
        queue.OnNotSeen(Missed(NotSeenKind.InterfaceDown, 2, 3));
        queue.OnFrame(FrameAt(4));
        queue.OnInterface(0, new("can0") { BitRate = 1 });
        queue.Flush();
        queue.OnNotSeen(Missed(NotSeenKind.InterfaceDown, 3, 9));
        queue.OnInterface(0, new("can0") { BitRate = 2 });
        queue.OnTick(new(9));
        Assert.Equal(["frame 1"], DrainAll(queue));
        queue.Flush();
        Assert.Equal(["InterfaceDown 0 2-9 0", "QueueDropped 255 4-4 1", "interface 0 can0 2", "tick 9"], DrainAll(queue).Order(StringComparer.Ordinal));
    }

    [Fact]
    public void AFullQueueForDaysNeedsNoMoreRoom()
    {
        BusQueue queue = new(WhenFull.Count, capacity: 1);
        queue.OnFrame(FrameAt(0));
        queue.Flush();
        for (int i = 1; i <= 5_000; i++)
        {
            queue.OnFrame(FrameAt(i));
            queue.OnNotSeen(Missed(NotSeenKind.KernelDropped, i, i, 1, (byte)(i % 16)));
            queue.Flush();
        }

        DrainAll(queue);
        queue.Flush();
        List<string> heard = DrainAll(queue);
        Assert.Equal(17, heard.Count);
        Assert.Equal(16, heard.Count(line => line.StartsWith("KernelDropped", StringComparison.Ordinal)));
        Assert.Equal(10_000, heard.Sum(line => long.Parse(line.Split(' ')[^1], System.Globalization.CultureInfo.InvariantCulture)));
        Assert.Equal(5_000, queue.FramesDropped);
    }

    [Fact]
    public async Task TraceWaitsInsteadOfLosing()
    {
        BusQueue queue = new(WhenFull.Wait, capacity: 1);
        const int Count = 20 * FrameBatch.Capacity;
        Task source = Task.Run(
            () =>
            {
                for (int i = 0; i < Count; i++)
                {
                    queue.OnFrame(FrameAt(i));
                }

                queue.Complete();
            },
            TestContext.Current.CancellationToken);
        Notes notes = new();
        while (queue.Drain(notes, Timeout.InfiniteTimeSpan, TestContext.Current.CancellationToken, out _))
        {
        }

        await source;
        Assert.Equal(Count, notes.Lines.Count);
        Assert.Equal(0, queue.FramesDropped);
    }

    [Fact]
    public void EveryGapOfATraceStaysOneOfItsOwn()
    {
        BusQueue queue = new(WhenFull.Wait, capacity: 4);
        List<string> told = [];
        for (int i = 0; i <= FrameBatch.RemarkCapacity; i++)
        {
            NotSeenKind kind = i % 2 == 0 ? NotSeenKind.DamagedRecords : NotSeenKind.ClockStep;
            queue.OnNotSeen(Missed(kind, i, i + 2, 1, NotSeen.AllInterfaces));
            told.Add($"{kind} 255 {i}-{i + 2} 1");
        }

        queue.Complete();
        Assert.Equal(told, DrainAll(queue));
    }

    [Fact]
    public async Task AbandonedTraceDoesNotWaitForever()
    {
        BusQueue queue = new(WhenFull.Wait, capacity: 1);
        queue.OnFrame(FrameAt(1));
        queue.Flush();
        queue.OnFrame(FrameAt(2));
        Task waiting = Task.Run(queue.Flush, TestContext.Current.CancellationToken);
        queue.Abandon();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => waiting);
        queue.Complete();
    }

    [Fact]
    public void EndOfTheSourceReachesTheConsumer()
    {
        BusQueue queue = new(WhenFull.Count);
        queue.OnFrame(FrameAt(1));
        queue.OnTick(new(2));
        queue.Complete(new IOException("unplugged"));
        Notes notes = new();
        Assert.True(queue.Drain(notes, Timeout.InfiniteTimeSpan, TestContext.Current.CancellationToken, out Instant? tick));
        IOException error = Assert.Throws<IOException>(() => queue.Drain(notes, Timeout.InfiniteTimeSpan, TestContext.Current.CancellationToken, out _));
        Assert.Equal("unplugged", error.Message);
        Assert.Equal(["frame 1"], notes.Lines);
        Assert.Equal(new(2), tick);
    }

    [Fact]
    public void WarmQueueAllocatesNothingPerFrame()
    {
        BusQueue queue = new(WhenFull.Count, capacity: 4);
        CountingSink sink = new();
        Pass(queue, sink);
        long before = GC.GetAllocatedBytesForCurrentThread();
        for (int round = 0; round < 50; round++)
        {
            Pass(queue, sink);
        }

        Assert.Equal(51 * 2 * FrameBatch.Capacity, sink.Frames);
        Assert.InRange(GC.GetAllocatedBytesForCurrentThread() - before, 0, 25_600);
    }

    private static void Pass(BusQueue queue, CountingSink sink)
    {
        for (int i = 0; i < 2 * FrameBatch.Capacity; i++)
        {
            queue.OnFrame(FrameAt(i));
        }

        while (queue.TryRead(out FrameBatch? batch))
        {
            batch.DrainTo(sink);
            queue.Recycle(batch);
        }
    }

    private sealed class CountingSink : IFrameSink
    {
        public int Frames { get; private set; }

        public void OnInterface(byte index, InterfaceFacts facts)
        {
        }

        public void OnFrame(in CanFrame frame) => Frames++;

        public void OnNotSeen(in NotSeen notSeen)
        {
        }
    }
}
