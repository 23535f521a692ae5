using Diagnostics.Agent;
using Diagnostics.Agent.History;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Microsoft.Extensions.Logging.Abstractions;

namespace Diagnostics.Tests.History;

public sealed class HistoryWriterTests
{
    private static readonly HistoryBatch Batch = new([], [new(new(0), 60, "can0", 0.1, 0.2, 1, 0, 1)], []);

    private static HistoryWriter Writer(Func<bool, IHistory> open, AgentState state) => new(open, state, TimeProvider.System, NullLogger<HistoryWriter>.Instance);

    [Fact]
    public async Task AllThatIsQueuedAtTheEndIsStillWritten()
    {
        MemoryHistory history = new();
        HistoryWriter writer = Writer(_ => history, new());
        for (int count = 0; count < 100; count++)
        {
            writer.Enqueue(Batch);
        }

        await writer.StartAsync(TestContext.Current.CancellationToken);
        await writer.StopAsync(TestContext.Current.CancellationToken);
        Assert.Equal(100, history.Written);
        Assert.True(history.IsDisposed);
        Assert.Equal(0, writer.Lost);
    }

    [Fact]
    public void AFullQueueIsCountedAndNeverWaitedFor()
    {
        HistoryWriter writer = Writer(_ => new MemoryHistory(), new());
        for (int count = 0; count < Limits.HistoryQueue + 5; count++)
        {
            writer.Enqueue(Batch);
        }

        Assert.Equal(5, writer.Lost);
    }

    [Fact]
    public async Task ALogThatCannotBeOpenedIsToldAndNothingElseFails()
    {
        AgentState state = new();
        HistoryWriter writer = Writer(_ => throw new HistoryException("The card is gone."), state);
        writer.Enqueue(Batch);
        await writer.StartAsync(TestContext.Current.CancellationToken);
        await writer.StopAsync(TestContext.Current.CancellationToken);
        Trouble trouble = Assert.Single(state.Troubles);
        Assert.StartsWith("The card is gone.", trouble.Text, StringComparison.Ordinal);
        Assert.Equal(1, writer.Lost);
    }

    [Fact]
    public async Task ALogThatFailsWhileWritingIsToldAndClosed()
    {
        AgentState state = new();
        MemoryHistory history = new() { FailsAfter = 2 };
        HistoryWriter writer = Writer(_ => history, state);
        for (int count = 0; count < 4; count++)
        {
            writer.Enqueue(Batch);
        }

        await writer.StartAsync(TestContext.Current.CancellationToken);
        await writer.StopAsync(TestContext.Current.CancellationToken);
        Assert.Equal(2, history.Written);
        Assert.Equal(2, writer.Lost);
        Assert.True(history.IsDisposed);
        Assert.Single(state.Troubles);
    }

    [Fact]
    public async Task ALogThatProvesDamagedInUseIsReplacedAtOnce()
    {
        AgentState state = new();
        MemoryHistory damaged = new() { FailsAfter = 1, IsDamaged = true };
        MemoryHistory fresh = new();
        HistoryWriter writer = Writer(isDamaged => isDamaged ? fresh : damaged, state);
        for (int count = 0; count < 4; count++)
        {
            writer.Enqueue(Batch);
        }

        await writer.StartAsync(TestContext.Current.CancellationToken);
        await writer.StopAsync(TestContext.Current.CancellationToken);
        Assert.Equal(1, damaged.Written);
        Assert.Equal(2, fresh.Written);
        Assert.Empty(state.Troubles);
    }

    [Fact]
    public async Task WhatTheLogRemembersIsShownBeforeTheRowsOfThisRun()
    {
        AgentState state = new();
        Instant now = Instant.FromDateTime(TimeProvider.System.GetUtcNow());
        TrafficRow earlier = new(now - TimeSpan.FromHours(1), 60, "can0", 0.1, 0.2, 1, 0, 1);
        TrafficRow own = earlier with { Start = now };
        state.AddRows([own]);
        HistoryWriter writer = Writer(_ => new MemoryHistory { Remembered = [earlier, own with { Frames = 99 }] }, state);
        await writer.StartAsync(TestContext.Current.CancellationToken);
        await writer.StopAsync(TestContext.Current.CancellationToken);
        Assert.Equal([earlier, own], state.Rows);
    }

    [Fact]
    public void RowsInMemoryAreLimitedAndTheOldestGo()
    {
        AgentState state = new();
        state.AddRows(Enumerable.Range(0, Limits.MinuteRowsInMemory + 3).Select(minute => new TrafficRow(new(minute * 60_000_000_000L), 60, "can0", 0, 0, 0, 0, 0)).ToArray());
        Assert.Equal(Limits.MinuteRowsInMemory, state.Rows.Length);
        Assert.Equal(new Instant(3 * 60_000_000_000L), state.Rows[0].Start);
    }

    private sealed class MemoryHistory : IHistory
    {
        public int Written { get; private set; }

        public int FailsAfter { get; init; } = int.MaxValue;

        public bool IsDamaged { get; init; }

        public bool IsDisposed { get; private set; }

        public IReadOnlyList<TrafficRow> Remembered { get; init; } = [];

        public void Write(HistoryBatch batch)
        {
            if (Written == FailsAfter)
            {
                throw new HistoryException("The card is full.") { IsDamage = IsDamaged };
            }

            Written++;
        }

        public IReadOnlyList<TrafficRow> ReadMinutes(Instant from, Instant to) => Remembered;

        public IReadOnlyList<FindingReport> ReadFindings() => [];

        public IReadOnlyList<NodeEvent> ReadNodeEvents(Instant from, Instant to) => [];

        public void Dispose() => IsDisposed = true;
    }
}
