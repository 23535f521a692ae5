using Diagnostics.Agent.Buses;

namespace Diagnostics.SystemTests.Kernel;

/// <summary>Against the kernel that runs the tests, CAN or not.</summary>
public class LinkQueryTests
{
    [Fact]
    public void LoopbackOfThisMachineIsFoundAndIsNoCanInterface()
    {
        using LinkQuery links = new();
        LinkFacts loopback = Assert.Single(links.All(), link => link.Name == "lo");
        Assert.False(loopback.IsCan);
        Assert.Equal(loopback.Index, links.Find("lo")!.Index);
    }

    [Fact]
    public void InterfaceThatDoesNotExistIsNotFound()
    {
        using LinkQuery links = new();
        Assert.Null(links.Find("nosuch0"));
        Assert.Null(links.Find("a-name-that-is-too-long"));
        Assert.Null(links.Find(""));
    }
}
