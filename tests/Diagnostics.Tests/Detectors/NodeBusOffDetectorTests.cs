using System.Text.Json;
using Diagnostics.Simulation;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

public class NodeBusOffDetectorTests
{
    private static readonly TimeSpan Begin = Minutes(2);

    /// <summary>Everything that the module sends is damaged for two seconds: 32 attempts and it is bus-off (TEC +8 each, limit 256; ISO 11898-1). It stays so.</summary>
    private static Site Damaged(double ratio, bool restarts) =>
        WithModule(Library(new BadDrop(5, ratio) { Start = Begin, End = Begin + Seconds(2) }), 5, module => module with { RestartsAfterBusOff = restarts });

    [Fact]
    public void AModuleWhoseFramesAreAllDamagedAndThatIsSilentThenCutItselfOff()
    {
        Replayed replayed = Of(Damaged(0.3, restarts: false), Minutes(4));
        JsonElement off = replayed.The("bus.off", 5);
        Assert.Equal("fault", Severity(off));
        Assert.InRange(SecondsOf(off, "start"), 120, 122);
        Assert.True(replayed.Has("node.silent", 5));
    }

    [Fact]
    public void AModuleThatIsSwitchedOffIsNotBusOff() =>
        Assert.False(Of(Library(new NodeWithoutPower(5) { Start = Begin }), Minutes(4)).Has("bus.off"));

    [Fact]
    public void AModuleThatRecoversAtOnceIsNotSilent() =>
        Assert.False(Of(Damaged(0.3, restarts: true), Minutes(4)).Has("bus.off", 5));

    [Fact]
    public void FewErrorsBeforeASilenceAreNoBusOff()
    {
        // On a bus that is half full there are frames to be hit.
        Site site = Library(new HighLoad(0.5), new BusNoise(0.05) { Start = Begin, End = Begin + Seconds(0.008) }, new NodeHang(5) { Start = Begin });
        Replayed replayed = Of(site, Minutes(3));
        Assert.InRange(replayed.Bus.GetProperty("errorMessages").GetInt64(), 9, 27);
        Assert.True(replayed.Has("node.silent", 5));
        Assert.False(replayed.Has("bus.off"));
    }

    [Fact]
    public void WhileFramesAreLostNobodyIsCalledBusOff()
    {
        Replayed replayed = Of(Damaged(0.3, restarts: false), Minutes(2) + Seconds(12), [(Begin + Seconds(2.05), Begin + Seconds(11))]);
        Assert.False(replayed.Has("bus.off", 5));
    }
}
