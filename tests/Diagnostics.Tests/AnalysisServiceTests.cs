using Diagnostics.Agent;
using Diagnostics.Agent.Commands;
using Diagnostics.Agent.History;
using Diagnostics.Agent.Soaks;
using Diagnostics.Can;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Soak;
using Microsoft.Extensions.Hosting.Systemd;
using Microsoft.Extensions.Logging.Abstractions;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Tests;

public sealed class AnalysisServiceTests
{
    private const string ThirtySeconds = "30000000";

    [Fact]
    public async Task ASnapshotIsThereAfterTheFirstTickAndTheWatchdogIsFedByTicksOnly()
    {
        SteppedClock clock = new();
        Notifier notifier = new();
        AgentState state = new();
        using SteppedSource source = new(clock, TimeSpan.FromMilliseconds(250), rounds: 4 * 40);
        await RunAsync(source, state, clock, notifier);
        Assert.NotNull(state.Report);
        Assert.Equal("simulated", state.Report.Source.Kind);

        // Forty seconds of ticks, fed at once and then every third of thirty seconds.
        Assert.Equal(Enumerable.Repeat("WATCHDOG=1", 5), notifier.Told);
    }

    [Fact]
    public async Task ALiveReaderThatNoLongerTellsTheTimeStarvesTheWatchdog()
    {
        SteppedClock clock = new();
        Notifier notifier = new();
        using SteppedSource source = new(clock, TimeSpan.FromSeconds(1), rounds: 300) { Kind = "live", DiesAfterRounds = 25 };
        await RunAsync(source, new(), clock, notifier);

        // Fed at 0, 10 and 20 seconds of the first 25, and never again.
        Assert.Equal(3, notifier.Told.Count);
    }

    [Fact]
    public async Task ALogThatFailsDoesNotStopTheAnalysis()
    {
        SteppedClock clock = new();
        AgentState state = new();
        using SteppedSource source = new(clock, TimeSpan.FromSeconds(1), rounds: 600);
        HistoryWriter history = new(() => throw new HistoryException(Say($"The card is gone.")), state, clock, NullLogger<HistoryWriter>.Instance);
        await history.StartAsync(TestContext.Current.CancellationToken);
        await RunAsync(source, state, clock, null, history);
        await history.StopAsync(TestContext.Current.CancellationToken);
        Assert.Equal(600, source.Rounds);
        Assert.NotNull(state.Report);
    }

    /// <summary>Of what runs faster than life, snapshots are a minute apart: one more comes where the time of the test is full.</summary>
    [Fact]
    public async Task ASoakTestEndsWhereItsTimeIsFullHoweverFastTheSourceRuns()
    {
        SteppedClock clock = new();
        AgentState state = new();
        TimeSpan step = TimeSpan.FromSeconds(0.5);
        using SteppedSource source = new(clock, step / 300, rounds: 500) { Pace = 300, OnRound = (_, sink, now) => sink.OnFrame(CanFrame.Classic(now, CanId.Base(0x705), [5])) };
        Assert.True(state.TryStartSoak(SoakRequest.Read("short", "90s", null, null, null), out _));
        await RunAsync(source, state, clock, null);
        SoakRecord record = Assert.Single(state.Soaks);
        Assert.Equal(SoakEnd.Complete, record.End);
        Assert.InRange(record.ListenedSeconds, 90, 90 + step.TotalSeconds);
        Assert.Contains("1 min of 1 min", string.Join('\n', SoakSheet.Of(record, TimeZoneInfo.Utc, null).Parts[0].Lines.Select(line => line.Text.English)), StringComparison.Ordinal);
    }

    /// <summary>Names are taken between two frames by the next tick; what was found before keeps the words it was told with, and how the bus is read stays.</summary>
    [Fact]
    public async Task AnotherRecordGivesTheNamesWithTheNextTickWithoutAFreshStart()
    {
        SteppedClock clock = new();
        AgentState state = new();
        AsBuiltRecord first = new() { BitRate = 125_000, Protocol = "canopen", Nodes = [new() { Address = 5, Name = "old name" }] };
        using SteppedSource source = new(clock, TimeSpan.FromSeconds(1), rounds: 60) { Site = first };
        source.OnRound = (round, sink, now) =>
        {
            sink.OnFrame(CanFrame.Classic(now, CanId.Base(0x707), [5]));
            if (round <= 20)
            {
                sink.OnFrame(CanFrame.Classic(now, CanId.Base(0x705), [5]));
            }
            else if (round == 40)
            {
                state.UseRecord(new() { BitRate = 50_000, Protocol = "none", Nodes = [new() { Address = 5, Name = "workshop buttons" }] });
            }
        };
        await RunAsync(source, state, clock, null);
        Core.Reporting.BusReport bus = Assert.Single(state.Report!.Buses);
        Assert.Equal(("workshop buttons", 125_000, "canopen"), (bus.Nodes[0].Name, bus.BitRate, bus.Protocol));
        Core.Reporting.FindingReport silent = Assert.Single(state.Report.Findings, finding => finding.Finding == "node.silent");
        Assert.Contains("old name", silent.Summary, StringComparison.Ordinal);
        Assert.Equal("workshop buttons", state.Built!.Nodes[0].Name);
    }

    [Fact]
    public async Task WhenTheBoardIsToldTheTimeThePageReadsItFromTheBeginningAndSlewingIsNotFollowed()
    {
        SteppedClock clock = new();
        AgentState state = new();
        Instant start = Instant.FromDateTime(clock.GetUtcNow());
        using SteppedSource source = new(clock, TimeSpan.FromSeconds(1), rounds: 200)
        {
            Wall = round => round < 100 ? TimeSpan.FromMilliseconds(9 * round) : TimeSpan.FromHours(5),
        };
        await RunAsync(source, state, clock, null);
        Assert.Equal(start + TimeSpan.FromHours(5), state.Report!.Source.Start);
    }

    [Fact]
    public void RowsOfThisRunMoveAndThoseOfTheLogStay()
    {
        AgentState state = new();
        TrafficRow Row(int hour) => new(Instant.FromSeconds(3600 * hour), 60, "can0", null, null, 1, 0, 0);
        state.SetEarlierRows([Row(10), Row(11)]);
        state.AddRows([Row(0)]);

        // A run that believes it were 1970 can't be put behind what is known from before it.
        Assert.Equal([Row(0)], state.Rows);
        state.MoveRun(TimeSpan.FromHours(12), default);
        Assert.Equal([Row(10), Row(11), Row(12)], state.Rows);
    }

    [Fact]
    public void TheWatchdogStaysQuietWithoutSystemdOrWithoutItsTime()
    {
        SteppedClock clock = new();
        Notifier notifier = new();
        new Watchdog(null, clock, ThirtySeconds).OnTick();
        new Watchdog(notifier, clock, null).OnTick();
        new Watchdog(notifier, clock, "soon").OnTick();
        Assert.Empty(notifier.Told);
    }

    private static async Task RunAsync(SteppedSource source, AgentState state, SteppedClock clock, ISystemdNotifier? notifier, HistoryWriter? history = null)
    {
        using AnalysisService service = new(source, new(), state, history, new(notifier, clock, ThirtySeconds), clock, NullLogger<AnalysisService>.Instance);
        await service.StartAsync(TestContext.Current.CancellationToken);
        await source.Ended;
        await service.StopAsync(TestContext.Current.CancellationToken);
    }

    private sealed class Notifier : ISystemdNotifier
    {
        public List<string> Told { get; } = [];

        public bool IsEnabled => true;

        public void Notify(ServiceState state) => Told.Add(state.ToString());
    }

    /// <summary>Stands still unless it is moved on.</summary>
    private sealed class SteppedClock : TimeProvider
    {
        private long _ticks = new DateTimeOffset(2026, 11, 25, 12, 0, 0, TimeSpan.Zero).UtcTicks;

        public override long TimestampFrequency => TimeSpan.TicksPerSecond;

        public override long GetTimestamp() => Interlocked.Read(ref _ticks);

        public override DateTimeOffset GetUtcNow() => new(Interlocked.Read(ref _ticks), TimeSpan.Zero);

        public void Advance(TimeSpan span) => Interlocked.Add(ref _ticks, span.Ticks);
    }

    /// <summary>Moves the clock with each round, and ends after so many.</summary>
    private sealed class SteppedSource(SteppedClock clock, TimeSpan step, int rounds) : IBusSource
    {
        private readonly TaskCompletionSource _ended = new(TaskCreationOptions.RunContinuationsAsynchronously);

        public Task Ended => _ended.Task;

        public int Rounds { get; private set; }

        private readonly DateTimeOffset _start = clock.GetUtcNow();

        /// <summary>Seconds of its line for each of the clock.</summary>
        public double Pace { get; init; } = 1;

        private Instant Line => Instant.FromDateTime(_start + ((clock.GetUtcNow() - _start) * Pace));

        public string Kind { get; init; } = "simulated";

        public int DiesAfterRounds { get; init; } = int.MaxValue;

        public Func<int, TimeSpan> Wall { get; init; } = _ => TimeSpan.Zero;

        public Action<int, IFrameSink, Instant> OnRound { get; set; } = (_, _, _) => { };

        public AsBuiltRecord? Site { get; init; }

        public TimeSpan WallMinusLine => Wall(Rounds);

        public string Name => "a stepped source";

        public Instant? Now { get; private set; } = Instant.FromDateTime(clock.GetUtcNow());

        public bool Read(IFrameSink sink, TimeSpan patience, CancellationToken cancellation)
        {
            if (Rounds == rounds)
            {
                _ended.TrySetResult();
                return false;
            }

            Rounds++;
            clock.Advance(step);
            if (Rounds <= DiesAfterRounds)
            {
                Now = Line;
            }

            OnRound(Rounds, sink, Line);
            return true;
        }

        public void Dispose()
        {
        }
    }
}
