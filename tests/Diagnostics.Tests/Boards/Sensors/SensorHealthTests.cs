using Diagnostics.Agent.Boards.Sensors;

namespace Diagnostics.Tests.Boards.Sensors;

public class SensorHealthTests
{
    private static readonly Core.Wording.Sentence Why = Core.Wording.Sentence.Plain("why");

    private readonly SensorHealth _health = new(Core.Wording.Sentence.Plain("Supply sensor"), "INA219");

    private (bool IsOver, string Text)? Good(double seconds) => _health.OnGood(TimeSpan.FromSeconds(seconds)) is { } news ? (news.IsOver, news.Text.English) : null;

    [Fact]
    public void FoundIsSaidOnce()
    {
        Assert.Equal(SensorCondition.Looking, _health.Condition);
        Assert.Equal((true, "Supply sensor (INA219): found."), Good(0));
        Assert.Null(Good(1));
        Assert.Equal(SensorCondition.Working, _health.Condition);
    }

    [Fact]
    public void MissingAtTheStartIsSaidAtOnceAndOnce()
    {
        Assert.Contains("was not found: why. Check its wires", _health.OnFailure(Why)!.Value.Text.English, StringComparison.Ordinal);
        Assert.Null(_health.OnFailure(Why));
        Assert.Equal(SensorCondition.InTrouble, _health.Condition);
    }

    [Fact]
    public void TwoSlipsAreNotTold()
    {
        Good(0);
        for (int round = 0; round < 5; round++)
        {
            Assert.Null(_health.OnFailure(Why));
            Assert.Null(_health.OnFailure(Why));
            Assert.Null(Good(round + 1));
        }

        Assert.Null(_health.OnFailure(Why));
        Assert.Null(_health.OnFailure(Why));
        Assert.Contains("why. What it measures is missing", _health.OnFailure(Why)!.Value.Text.English, StringComparison.Ordinal);
    }

    [Fact]
    public void ItIsOverWhenItHasAnsweredForTenSeconds()
    {
        _health.OnFailure(Why);
        Assert.Null(Good(0));
        Assert.Null(Good(9.9));
        Assert.Null(_health.OnFailure(Why));
        Assert.Null(Good(20));
        Assert.Null(Good(29.9));
        Assert.Equal((true, "Supply sensor (INA219): it works again."), Good(30));
        Assert.Null(_health.Trouble);
    }

    [Fact]
    public void AHangIsToldAtOnceAndOnce()
    {
        Good(0);
        Assert.Contains("holds up the I2C bus", _health.OnHang()!.Value.Text.English, StringComparison.Ordinal);
        Assert.Null(_health.OnHang());
        Assert.Null(_health.OnFailure(Why));
    }
}
