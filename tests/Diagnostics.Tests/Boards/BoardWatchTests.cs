using Diagnostics.Agent.Boards;

namespace Diagnostics.Tests.Boards;

public sealed class BoardWatchTests
{
    private static readonly BoardReading Well = new(false, false, 0, 45, 1L << 30);

    private readonly BoardWatch _watch = new();

    private (BoardEventKind Kind, bool IsOver)[] On(BoardReading reading) => [.. _watch.OnReading(reading).Select(news => (news.Kind, news.IsOver))];

    [Fact]
    public void ABoardThatIsWellOrSaysNothingIsNoNews()
    {
        Assert.Empty(On(Well));
        Assert.Empty(On(new(null, null, null, null, null)));
        Assert.Empty(_watch.Open);
    }

    [Fact]
    public void AnAlarmIsToldOnceAndIsOverAfterAMinuteWithoutIt()
    {
        Assert.Equal([(BoardEventKind.SupplyLow, false)], On(Well with { SupplyIsLow = true }));
        Assert.Empty(On(Well with { SupplyIsLow = true }));
        for (int reading = 1; reading < BoardWatch.Calm; reading++)
        {
            Assert.Empty(On(Well));
        }

        // Back before the minute was over: it is the same one.
        Assert.Empty(On(Well with { SupplyIsLow = true }));
        for (int reading = 1; reading < BoardWatch.Calm; reading++)
        {
            Assert.Empty(On(Well));
        }

        Assert.Single(_watch.Open);
        Assert.Equal([(BoardEventKind.SupplyLow, true)], On(Well));
        Assert.Empty(_watch.Open);
    }

    [Fact]
    public void AThrottlingBetweenTwoLooksIsSeenByItsCountAndTheFirstCountIsOld()
    {
        Assert.Empty(On(Well with { ThrottleCount = 900 }));
        Assert.Equal([(BoardEventKind.Throttled, false)], On(Well with { ThrottleCount = 901 }));
    }

    [Fact]
    public void ADiskThatIsNearlyFullIsToldUntilThereIsRoomEnough()
    {
        Assert.Empty(On(Well with { FreeBytes = BoardWatch.ShortBytes }));
        Assert.Equal([(BoardEventKind.DiskShort, false)], On(Well with { FreeBytes = BoardWatch.ShortBytes - 1 }));
        Assert.Contains("63 MB", _watch.Open[BoardEventKind.DiskShort].English, StringComparison.Ordinal);
        Assert.Empty(On(Well with { FreeBytes = BoardWatch.EnoughBytes - 1 }));
        Assert.Equal([(BoardEventKind.DiskShort, true)], On(Well with { FreeBytes = BoardWatch.EnoughBytes }));
    }

    [Fact]
    public void ADipBetweenTwoLooksIsSeenByWhatTheFirmwareRemembersAndWhatItRememberedBeforeIsOld()
    {
        Assert.Empty(On(Well with { SupplyWasLow = false }));
        Assert.Equal([(BoardEventKind.SupplyLow, false)], On(Well with { SupplyWasLow = true }));

        BoardWatch later = new();
        Assert.Empty(later.OnReading(Well with { SupplyWasLow = true }));
        Assert.Empty(later.OnReading(Well with { SupplyWasLow = true }));
    }

    [Fact]
    public void ADiskThatCanOnlyBeReadIsToldUntilItCanBeWritten()
    {
        Assert.Equal([(BoardEventKind.DiskReadOnly, false)], On(Well with { DiskIsReadOnly = true }));
        Assert.Empty(On(Well with { DiskIsReadOnly = true }));
        Assert.Contains("diagnostics bundle", _watch.Open[BoardEventKind.DiskReadOnly].English, StringComparison.Ordinal);
        Assert.Equal([(BoardEventKind.DiskReadOnly, true)], On(Well with { DiskIsReadOnly = false }));
    }
}
