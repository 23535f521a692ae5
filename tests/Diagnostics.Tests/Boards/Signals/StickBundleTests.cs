using Diagnostics.Agent.Boards.Signals;
using Diagnostics.Tests.Boards.Emulated;

namespace Diagnostics.Tests.Boards.Signals;

public sealed class StickBundleTests : IDisposable
{
    private readonly DirectoryInfo _root = Directory.CreateTempSubdirectory("stick");

    public void Dispose() => _root.Delete(recursive: true);

    private StickBundle Stick(string? named = null) => new(_root.FullName, named, null);

    [Theory]
    [InlineData("pci0000:00/usb1/1-1", "0", "/media/stick")]
    [InlineData("platform/card", "1", "/media/stick")]
    [InlineData("pci0000:00/sata", "0", null)]
    public void AStickIsARemovableDiskOrOneAtUsb(string bus, string removable, string? place)
    {
        EmulatedStick.Mount(_root.FullName, "/media/stick", bus, removable);
        Assert.Equal(place, Stick().Find());
    }

    [Theory]
    [InlineData("/media/stick", "/media/stick")]
    [InlineData("/media/stick/", "/media/stick")]
    [InlineData("/media/other", null)]
    [InlineData("/var/lib", null)]
    public void ANamedPlaceMustBeMounted(string named, string? place)
    {
        EmulatedStick.Mount(_root.FullName, "/media/stick", "pci0000:00/sata", "0");
        Assert.Equal(place, Stick(named).Find());
    }

    [Fact]
    public async Task WithoutALogThereIsNothingToWrite()
    {
        Assert.Null(Stick().Find());
        (bool isDone, Core.Wording.Sentence text) = await Stick().WriteAsync(TestContext.Current.CancellationToken);
        Assert.False(isDone);
        Assert.Contains("no log is kept", text.English, StringComparison.Ordinal);
    }
}
