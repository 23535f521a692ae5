using Diagnostics.Agent;
using Diagnostics.Agent.Boards;
using Diagnostics.Agent.Boards.Sensors;
using Diagnostics.Can;
using Diagnostics.Core.Measuring;
using Diagnostics.Tests.Access;
using Diagnostics.Tests.Boards.Emulated;
using Microsoft.Extensions.Logging.Abstractions;
using UnitsNet;
using Quantity = Diagnostics.Core.Measuring.Quantity;

namespace Diagnostics.Tests.Boards.Sensors;

/// <summary>The whole way from emulated chips to what the analysis takes and what people are told.</summary>
public sealed class SensorServiceTests : IDisposable
{
    private readonly EmulatedTime _supplyTime = new();
    private readonly EmulatedTime _airTime = new();
    private readonly EmulatedIna219 _supply;
    private readonly EmulatedBme280 _air;
    private readonly HandClock _clock = new();
    private readonly AgentState _state = new();
    private readonly CancellationTokenSource _over = new();

    public SensorServiceTests()
    {
        _supply = new(_supplyTime) { BusVolts = _ => 12 };
        _air = new(_airTime);
    }

    public void Dispose()
    {
        _over.Cancel();
        _supply.Release();
        _air.Release();
        _over.Dispose();
    }

    private SensorRunner Runner(BoardEventKind kind, Func<ISensor> open, TimeSpan? pause = null)
    {
        SensorPlan plan = new(kind, Core.Wording.Sentence.Plain(kind.ToString()), "part", pause ?? TimeSpan.FromMilliseconds(1), open) { Retry = TimeSpan.FromMilliseconds(1) };
        return new(plan, () => _supplyTime.Line, _state.Measurements, (isOver, text) =>
        {
            _state.SetTrouble(kind.ToString(), default, isOver ? null : text);
            _state.TellBoard(kind, isOver, text);
        }, _state.SetSensor, _clock);
    }

    private SensorRunner Supply()
    {
        BoardPorts ports = new((_, _) => _supply, _ => throw new InvalidOperationException(), _clock);
        return Runner(BoardEventKind.SupplySensor, () => new Slow(new Ina219Sensor(ports.I2c(1, 0x40), ElectricResistance.Zero), _supplyTime));
    }

    private SensorRunner Air() => Runner(BoardEventKind.AirSensor, () => new AirSensor(_air));

    /// <summary>Time goes on until the trouble is over: the first good value may count from before or behind one step of the clock.</summary>
    private void UntilCalm() => Patience.Until(() =>
    {
        _clock.Move(SensorHealth.Calm);
        return _state.Troubles.IsEmpty;
    });

    private IReadOnlyList<Measurement> Taken()
    {
        List<Measurement> taken = [];
        while (_state.Measurements.TryTake(out Measurement measurement))
        {
            taken.Add(measurement);
        }

        return taken;
    }

    private SensorCondition? ConditionOf(BoardEventKind kind) => _state.Sensors.FirstOrDefault(sensor => sensor.Kind == kind)?.Condition;

    [Fact]
    public void WhatIsMeasuredReachesTheAnalysisAndThePage()
    {
        Supply().Start(_over.Token);
        List<Measurement> taken = [];
        Patience.Until(() =>
        {
            taken.AddRange(Taken());
            return taken.Count > 3;
        });
        Assert.All(taken, value => Assert.Equal((Quantity.SupplyVolts, 12.0), (value.Quantity, Math.Round(value.Value, 6))));
        Assert.All(taken.Zip(taken.Skip(1)), pair => Assert.True(pair.Second.End > pair.First.End));
        Assert.Equal(SensorCondition.Working, ConditionOf(BoardEventKind.SupplySensor));
        Assert.Equal("SupplySensor (part): found.", _state.TakeBoardNews(default)[0].Text);
        Assert.Empty(_state.Troubles);
    }

    [Fact]
    public void ASensorThatIsNotThereIsToldAndFoundWhenItComes()
    {
        _supply.Wiring = Wiring.NoAcknowledge;
        Supply().Start(_over.Token);
        Patience.Until(() => !_state.Troubles.IsEmpty);
        Assert.Contains("was not found: it does not answer (Error 121", _state.Troubles[0].Text.English, StringComparison.Ordinal);
        Patience.Until(() => ConditionOf(BoardEventKind.SupplySensor) == SensorCondition.InTrouble);
        Assert.Empty(Taken());

        _supply.Wiring = Wiring.Sound;
        Patience.Until(() => Taken().Count > 0);
        UntilCalm();
        Patience.Until(() => ConditionOf(BoardEventKind.SupplySensor) == SensorCondition.Working);
    }

    [Fact]
    public void AHangIsToldTakesNoOtherAlongAndPassesByItself()
    {
        SensorRunner supply = Supply();
        supply.Start(_over.Token);
        Patience.Until(() => ConditionOf(BoardEventKind.SupplySensor) == SensorCondition.Working);
        _supply.Wiring = Wiring.Hangs;
        _supply.IsHanging.Wait(TestContext.Current.CancellationToken);
        supply.Look();
        Assert.Empty(_state.Troubles);

        _clock.Move(Limits.SensorHangs * 2);
        supply.Look();
        Assert.Contains("does not let go", Assert.Single(_state.Troubles).Text.English, StringComparison.Ordinal);

        Taken();
        Air().Start(_over.Token);
        Patience.Until(() => Taken().Any(value => value.Quantity == Quantity.AirCelsius));

        _supply.Release();
        Patience.Until(() => Taken().Any(value => value.Quantity == Quantity.SupplyVolts));
        UntilCalm();
    }

    [Fact]
    public void ASensorThatLiesGivesNothingAndIsTold()
    {
        Supply().Start(_over.Token);
        Patience.Until(() => ConditionOf(BoardEventKind.SupplySensor) == SensorCondition.Working);
        _supply.Wiring = Wiring.AllOnes;
        Patience.Until(() => !_state.Troubles.IsEmpty);
        Assert.All(Taken(), value => Assert.Equal(12, value.Value, 6));
        Assert.Empty(_state.Sensors[0].Values);
    }

    [Fact]
    public async Task NothingFittedIsNothingTold()
    {
        using SensorService service = new([], () => null, _state, TimeProvider.System, NullLogger<SensorService>.Instance);
        await service.StartAsync(TestContext.Current.CancellationToken);
        await service.ExecuteTask!;
        Assert.Empty(_state.Troubles);
        Assert.Empty(_state.Sensors);
        Assert.Empty(_state.TakeBoardNews(default));
    }

    [Fact]
    public void WhatTheAnalysisDoesNotTakeIsCounted()
    {
        SensorQueue queue = new(2);
        for (int value = 0; value < 5; value++)
        {
            queue.Add(new(Quantity.SupplyVolts, new(value), new(value + 1), value));
        }

        Assert.Equal(3, queue.Dropped);
        Assert.True(queue.TryTake(out Measurement first));
        Assert.Equal(0, first.Value);
    }

    /// <summary>Whoever waits for a transfer that hangs goes on without it in the end; the one that hung gives back a turn that is no longer its own.</summary>
    [Fact]
    public void AGateIsNotShutForEver()
    {
        I2cGate gate = new(TimeProvider.System, TimeSpan.FromMilliseconds(20));
        long hung = gate.Enter();
        long next = gate.Enter();
        gate.Leave(hung);
        gate.Leave(next);
        gate.Leave(gate.Enter());
        Assert.True(next > hung);
    }

    /// <summary>The emulated time goes on only by transfers; between two readings the part converts.</summary>
    private sealed class Slow(ISensor sensor, EmulatedTime time) : ISensor
    {
        public IReadOnlyList<SensorValue> Read(Func<Instant> now)
        {
            time.Pass(TimeSpan.FromMilliseconds(10));
            return sensor.Read(now);
        }

        public void Dispose() => sensor.Dispose();
    }
}
