using System.Text.Json;
using Diagnostics.Simulation;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

public class IdentityDetectorTests
{
    private static readonly TimeSpan Begin = Seconds(60);

    /// <summary>Switched on in the recording, so that the controller's reading of every identity is heard.</summary>
    private static Site Starting(params Fault[] faults) => Library(faults) with { WarmUp = TimeSpan.Zero };

    private static Site WithFirmware(int address, string firmware) => WithModule(Starting(), address, module => module with { Firmware = firmware });

    [Fact]
    public void AnotherSerialNumberBehindABootUpIsAReplacement()
    {
        Replayed replayed = Of(Starting(new ModuleReplaced(6, 77_123) { Start = Begin, End = Begin + Seconds(50) }), Minutes(4));
        JsonElement replaced = replayed.The("node.replaced", 6);
        Assert.Equal("note", Severity(replaced));
        Assert.Contains("77123", replaced.GetProperty("summary").GetString(), StringComparison.Ordinal);
        Assert.False(replayed.Has("node.duplicate-address"));
        Assert.Equal(["node.silent/can0/node-6"], replayed.Accusations);
    }

    [Fact]
    public void TheSameModuleThatReturnsIsNoReplacement()
    {
        Replayed replayed = Of(Starting(new NodeWithoutPower(6) { Start = Begin, End = Begin + Seconds(50) }), Minutes(4));
        Assert.False(replayed.Has("node.replaced"));
        Assert.True(HasEnded(replayed.The("node.silent", 6)));
    }

    [Fact]
    public void AReplacementWhoseBootUpWasLostAccusesNobody()
    {
        TimeSpan back = Begin + Seconds(50);
        Replayed replayed = Of(Starting(new ModuleReplaced(6, 77_123) { Start = Begin, End = back }), Minutes(4), [(back, back + Seconds(0.33))]);
        Assert.False(replayed.Has("node.duplicate-address"));
    }

    [Fact]
    public void WithoutAReadingOfTheOldNumberNothingIsSaid() =>
        Assert.False(Of(Library(new ModuleReplaced(6, 77_123) { Start = Begin, End = Begin + Seconds(50) }), Minutes(4)).Has("node.replaced"));

    [Fact]
    public void OneOfFourEqualsWithOtherFirmwareIsANote()
    {
        // Input modules and button panels 1, 3, 5, 8, 11 and 14 share vendor and product.
        JsonElement differs = Of(WithFirmware(8, "2.3.9"), Minutes(1)).The("node.firmware-differs", 8);
        Assert.Equal("note", Severity(differs));
        Assert.Contains("2.3.9", differs.GetProperty("summary").GetString(), StringComparison.Ordinal);
    }

    [Fact]
    public void OtherFirmwareOfAnotherProductIsNone() =>
        Assert.Empty(Of(WithModules(Starting(), module => module.Product == 0x201 ? module with { Firmware = "3.0.0" } : module), Minutes(1)).Findings);

    [Fact]
    public void OneOfTwoEqualsCannotTellWhichDiffers() =>
        Assert.Empty(Of(WithFirmware(7, "2.3.9"), Minutes(1)).Findings);

    [Fact]
    public void HalfAndHalfIsNoMajority() =>
        Assert.Empty(Of(WithModules(Starting(), module => module.Address is 1 or 3 or 5 ? module with { Firmware = "2.3.9" } : module), Minutes(1)).Findings);

    [Fact]
    public void AFirmwareTextWhoseReadingWasLostIsNotCompared()
    {
        // The controller reads all identities within the first seconds; without them there is nothing to compare.
        Replayed replayed = Of(WithFirmware(8, "2.3.9"), Minutes(1), [(Seconds(0.5), Seconds(20))]);
        Assert.False(replayed.Has("node.firmware-differs"));
    }
}
