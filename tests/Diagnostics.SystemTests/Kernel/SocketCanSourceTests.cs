using Diagnostics.Agent.Buses;
using Diagnostics.Can;

namespace Diagnostics.SystemTests.Kernel;

/// <summary>What the source does on any kernel, CAN or not.</summary>
public class SocketCanSourceTests
{
    private sealed class NotSeenSink : IFrameSink
    {
        public List<NotSeen> Heard { get; } = [];

        public void OnInterface(byte index, InterfaceFacts facts)
        {
        }

        public void OnFrame(in CanFrame frame)
        {
        }

        public void OnNotSeen(in NotSeen notSeen) => Heard.Add(notSeen);
    }

    [Fact]
    public async Task InterfacesThatCannotBeReadAreToldWithTheReason()
    {
        BusQueue queue = new(WhenFull.Count);
        NotSeenSink sink = new();
        using SocketCanSource source = new(["nosuch0", "lo"], queue);
        source.Start();
        Instant? tick = null;
        while (tick is null)
        {
            Assert.True(queue.Drain(sink, Timeout.InfiniteTimeSpan, TestContext.Current.CancellationToken, out tick));
        }

        source.Dispose();
        await source.Completion;
        NotSeen[] down = [.. sink.Heard.Where(span => span.Kind == NotSeenKind.InterfaceDown).OrderBy(span => span.Interface)];
        Assert.Equal([(0, "the interface does not exist"), (1, "the interface is not a CAN interface")], down.Select(span => ((int)span.Interface, span.Why)));
        Assert.All(down, span => Assert.Equal(tick, span.End));
        while (queue.TryRead(out FrameBatch? rest))
        {
            queue.Recycle(rest);
        }

        Assert.False(queue.Drain(sink, Timeout.InfiniteTimeSpan, TestContext.Current.CancellationToken, out _));
    }

    [Fact]
    public async Task SourceThatWasNeverStartedEndsItsQueue()
    {
        BusQueue queue = new(WhenFull.Count);
        SocketCanSource source = new(["can0"], queue);
        source.Dispose();
        source.Dispose();
        await source.Completion;
        Assert.False(queue.Drain(new NotSeenSink(), Timeout.InfiniteTimeSpan, TestContext.Current.CancellationToken, out _));
    }

    [Fact]
    public void NonsenseIsRefusedAtOnce()
    {
        BusQueue queue = new(WhenFull.Count);
        Assert.Throws<ArgumentOutOfRangeException>(() => new SocketCanSource([], queue));
        Assert.Throws<ArgumentOutOfRangeException>(() => new SocketCanSource([.. Enumerable.Range(0, SocketCanOptions.MaxInterfaces + 1).Select(i => $"can{i}")], queue));
        Assert.Throws<ArgumentException>(() => new SocketCanSource(["can0", "can0"], queue));
        Assert.Throws<ArgumentOutOfRangeException>(() => new SocketCanOptions { ReceiveBufferBytes = 0 });
        Assert.Throws<ArgumentOutOfRangeException>(() => new SocketCanOptions { GatherTime = TimeSpan.FromMilliseconds(501) });
        Assert.Throws<ArgumentOutOfRangeException>(() => new BusQueue(WhenFull.Count, capacity: 0));
    }
}
