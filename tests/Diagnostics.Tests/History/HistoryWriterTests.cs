using Diagnostics.Agent;
using Diagnostics.Agent.Captures;
using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using Diagnostics.Tests.Pages;
using Microsoft.Extensions.Logging.Abstractions;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Tests.History;

public sealed class HistoryWriterTests
{
    private static readonly HistoryBatch Batch = new([], [(StoreSeries.Minutes, new(new(0), 60, "can0", 0.1, 0.2, 1, 0, 1))], []);

    private static HistoryWriter Writer(Func<IHistory> open, AgentState state) => new(open, state, TimeProvider.System, NullLogger<HistoryWriter>.Instance);

    [Fact]
    public async Task AllThatIsQueuedAtTheEndIsStillWritten()
    {
        MemoryHistory history = new();
        HistoryWriter writer = Writer(() => history, new());
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
        HistoryWriter writer = Writer(() => new MemoryHistory(), new());
        for (int count = 0; count < Limits.HistoryQueue + 5; count++)
        {
            writer.Enqueue(Batch);
        }

        Assert.Equal(5, writer.Lost);
    }

    /// <summary>A card may stall for minutes, and a capture may have megabytes.</summary>
    [Fact]
    public async Task FramesThatWaitAreBoundedAndMakeRoomWhenTheyAreWritten()
    {
        HistoryWriter writer = Writer(() => new MemoryHistory(), new());
        int all = writer.RoomForFrames;
        writer.Enqueue(HistoryBatch.Nothing with { Captures = [(new(new(0), "mark", true), new byte[CaptureFiles.MostBytes]), (new(new(0), "mark", true), null)] });
        Assert.Equal(all - CaptureFiles.MostBytes, writer.RoomForFrames);
        await writer.StartAsync(TestContext.Current.CancellationToken);
        await writer.StopAsync(TestContext.Current.CancellationToken);
        Assert.Equal(all, writer.RoomForFrames);
    }

    [Fact]
    public async Task ALogThatOpensAndCannotBeReadIsLetGo()
    {
        MemoryHistory history = new() { Remembered = null! };
        HistoryWriter writer = Writer(() => history, new());
        await writer.StartAsync(TestContext.Current.CancellationToken);
        await writer.StopAsync(TestContext.Current.CancellationToken);
        Assert.True(history.IsDisposed);
    }

    [Fact]
    public async Task ALogThatCannotBeOpenedIsToldAndNothingElseFails()
    {
        AgentState state = new();
        HistoryWriter writer = Writer(() => throw new HistoryException(Say($"The card is gone.")), state);
        writer.Enqueue(Batch);
        await writer.StartAsync(TestContext.Current.CancellationToken);
        await writer.StopAsync(TestContext.Current.CancellationToken);
        Trouble trouble = Assert.Single(state.Troubles);
        Assert.StartsWith("The card is gone.", trouble.Text.English, StringComparison.Ordinal);
        Assert.Equal(1, writer.Lost);
    }

    /// <summary>It holds what it couldn't write, so it is never closed for that.</summary>
    [Fact]
    public async Task ALogThatFailsWhileWritingIsToldAndThatItWorksAgainToo()
    {
        AgentState state = new();
        List<int> troubles = [];
        MemoryHistory history = new() { Fails = written => written is 2 or 3, OnWrite = () => troubles.Add(state.Troubles.Length) };
        HistoryWriter writer = Writer(() => history, state);
        for (int count = 0; count < 6; count++)
        {
            writer.Enqueue(Batch);
        }

        await writer.StartAsync(TestContext.Current.CancellationToken);
        await writer.StopAsync(TestContext.Current.CancellationToken);
        Assert.Equal(6, history.Written);
        Assert.Equal([0, 0, 1, 1, 0, 0], troubles);
        Assert.Equal(0, writer.Lost);
        Assert.Empty(state.Troubles);
    }

    [Fact]
    public async Task TheDocumentsOfTheRunAndItsLastReportAreKeptBesideTheLog()
    {
        MemoryHistory history = new();
        AgentState state = new() { Report = SampleReports.Rich() };
        HistoryWriter writer = new(() => history, state, TimeProvider.System, NullLogger<HistoryWriter>.Instance, new Dictionary<string, byte[]?> { ["settings.json"] = [1], ["site.json"] = null });
        await writer.StartAsync(TestContext.Current.CancellationToken);
        await writer.StopAsync(TestContext.Current.CancellationToken);
        Assert.Equal([1], history.Kept["settings.json"]);
        Assert.Null(history.Kept["site.json"]);
        Assert.Equal(ReportJson.ToUtf8(SampleReports.Rich()), history.Kept["report.json"]);
    }

    [Fact]
    public async Task ADocumentThatChangesTakesThePlaceOfTheOneBesideTheLogAndInBundles()
    {
        MemoryHistory history = new();
        HistoryWriter writer = new(() => history, new(), TimeProvider.System, NullLogger<HistoryWriter>.Instance, new Dictionary<string, byte[]?> { ["settings.json"] = [1], ["site.json"] = [2] });
        await writer.StartAsync(TestContext.Current.CancellationToken);
        await writer.SnapshotAsync(TestContext.Current.CancellationToken);
        Assert.Equal([2], history.Kept["site.json"]);
        writer.KeepDocument("site.json", [3]);
        Assert.Equal([3], writer.Documents["site.json"]);
        await writer.StopAsync(TestContext.Current.CancellationToken);
        Assert.Equal([3], history.Kept["site.json"]);
        Assert.Equal([1], history.Kept["settings.json"]);
    }

    /// <summary>The log itself goes on: its files are there already, and this one may be what finds no room.</summary>
    [Fact]
    public async Task ADocumentThatCannotBeKeptIsToldAndTheLogGoesOn()
    {
        AgentState state = new() { Report = SampleReports.Rich(), KeepsLog = true };
        MemoryHistory history = new() { FailsToKeep = true };
        HistoryWriter writer = Writer(() => history, state);
        writer.Enqueue(Batch);
        await writer.StartAsync(TestContext.Current.CancellationToken);
        await writer.StopAsync(TestContext.Current.CancellationToken);
        Assert.Equal(1, history.Written);
        Assert.Equal(KeptDocuments.Report, Assert.Single(state.Troubles).Part);
        Assert.True(state.TryMark("still taken", out _));
    }

    [Fact]
    public async Task WhatCanBeCopiedIsAskedOfTheLogsOwnThread()
    {
        HistoryWriter writer = Writer(() => new MemoryHistory(), new());
        await writer.StartAsync(TestContext.Current.CancellationToken);
        Assert.Equal("minutes-0000000000000001.seg", Assert.Single((await writer.SnapshotAsync(TestContext.Current.CancellationToken)).Files).Name);
        await writer.StopAsync(TestContext.Current.CancellationToken);

        HistoryWriter closed = Writer(() => throw new HistoryException(Say($"The card is gone.")), new());
        await closed.StartAsync(TestContext.Current.CancellationToken);
        await Assert.ThrowsAsync<HistoryException>(() => closed.SnapshotAsync(TestContext.Current.CancellationToken));
        await closed.StopAsync(TestContext.Current.CancellationToken);
    }

    /// <summary>Its card stalls, or it has ended.</summary>
    [Fact]
    public async Task ALogThatDoesNotAnswerIsNotWaitedForForEver()
    {
        HistoryWriter writer = new(() => new MemoryHistory(), new(), new HastyClock(), NullLogger<HistoryWriter>.Instance);
        HistoryException told = await Assert.ThrowsAsync<HistoryException>(() => writer.SnapshotAsync(TestContext.Current.CancellationToken));
        Assert.Contains("within 20 s", told.Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task HowTheLogWasFoundIsShown()
    {
        AgentState state = new();
        HistoryWriter writer = Writer(() => new MemoryHistory { Remarks = [Say($"The last run was cut off.")] }, state);
        await writer.StartAsync(TestContext.Current.CancellationToken);
        await writer.StopAsync(TestContext.Current.CancellationToken);
        Assert.Equal("The last run was cut off.", Assert.Single(state.Earlier!.Remarks).English);
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
        HistoryWriter writer = Writer(() => new MemoryHistory { Remembered = [earlier, own with { Frames = 99 }] }, state);
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

        public Func<int, bool> Fails { get; init; } = _ => false;

        public Action OnWrite { get; init; } = () => { };

        public bool IsDisposed { get; private set; }

        public IReadOnlyList<Sentence> Remarks { get; init; } = [];

        public IReadOnlyList<TrafficRow> Remembered { get; init; } = [];

        public void Write(HistoryBatch batch)
        {
            OnWrite();
            if (Fails(++Written))
            {
                throw new HistoryException(Say($"The card is full."));
            }
        }

        public void OnIdle()
        {
        }

        public Dictionary<string, byte[]?> Kept { get; } = [];

        public bool FailsToKeep { get; init; }

        public StoreSnapshot Snapshot() => new([("minutes-0000000000000001.seg", 100)], null, null);

        public void Keep(string document, byte[]? content) => Kept[document] = FailsToKeep ? throw new HistoryException(Say($"The card is full.")) : content;

        public IReadOnlyList<TrafficRow> ReadRows(StoreSeries tier, Instant from, Instant to) => Remembered ?? throw new HistoryException(Say($"The card can't be read."));

        public IReadOnlyList<FindingReport> ReadFindings() => [];

        public IReadOnlyList<Capture> ReadCaptures() => [];

        public IReadOnlyList<LogRun> ReadRuns() => [];

        public (Instant? First, Instant? Last) ReadReach() => (new(0), new(60_000_000_000));

        public IReadOnlyList<Diagnostics.Core.Soak.SoakRecord> ReadSoaks() => [];
        public IReadOnlyList<MeasuredRow> ReadMeasured(Instant from, Instant to) => [];


        public IReadOnlyList<Acknowledgement> ReadAcknowledgements() => [];

        public IReadOnlyList<Diagnostics.Agent.Boards.BoardEvent> ReadBoardEvents() => [];

        public IReadOnlyList<InputEvent> ReadInputEvents(Instant from, Instant to) => [];

        public IReadOnlyList<NodeEvent> ReadNodeEvents(Instant from, Instant to) => [];

        public void Dispose() => IsDisposed = true;
    }

    /// <summary>Whoever asks doesn't wait for the next batch, and the log's own thread answers.</summary>
    [Fact]
    public async Task TheLogIsAskedWhileItIsWritten()
    {
        MemoryHistory history = new() { Remembered = [new(new(0), 60, "can0", 0.1, 0.2, 1, 3, 1)] };
        HistoryWriter writer = Writer(() => history, new());
        await writer.StartAsync(TestContext.Current.CancellationToken);
        Agent.Chronicles.Stretch stretch = await writer.ReadAsync(new(0), new(60_000_000_000), 10, TestContext.Current.CancellationToken);
        Assert.Equal(3, stretch.Buses[0].Columns.Sum(column => column.Errors));
        await writer.StopAsync(TestContext.Current.CancellationToken);
        await Assert.ThrowsAsync<HistoryException>(() => writer.ReadAsync(new(0), new(60_000_000_000), 10, TestContext.Current.CancellationToken));
    }

    /// <summary>A log that isn't there says so at once instead of letting a page wait.</summary>
    [Fact]
    public async Task ALogThatIsNotOpenSaysSo()
    {
        HistoryWriter writer = Writer(() => throw new HistoryException(Say($"There is no card.")), new());
        await writer.StartAsync(TestContext.Current.CancellationToken);
        await Assert.ThrowsAsync<HistoryException>(() => writer.ReadAsync(new(0), new(60_000_000_000), 10, TestContext.Current.CancellationToken));
        await writer.StopAsync(TestContext.Current.CancellationToken);
    }

    /// <summary>Every timer is due at once.</summary>
    private sealed class HastyClock : TimeProvider
    {
        public override ITimer CreateTimer(TimerCallback callback, object? state, TimeSpan dueTime, TimeSpan period) => base.CreateTimer(callback, state, TimeSpan.Zero, Timeout.InfiniteTimeSpan);
    }
}
