using Diagnostics.Agent.Buses;

namespace Diagnostics.Tests.Buses;

/// <summary>Numbers: asm-generic/errno-base.h and errno.h.</summary>
public class SystemCallExceptionTests
{
    [Theory]
    [InlineData(1, "EPERM")]
    [InlineData(5, "EIO")]
    [InlineData(19, "ENODEV")]
    [InlineData(28, "ENOSPC")]
    [InlineData(30, "EROFS")]
    [InlineData(97, "EAFNOSUPPORT")]
    [InlineData(100, "ENETDOWN")]
    public void MessageSaysWhichCallWhichErrorAndWhatToDo(int number, string name)
    {
        SystemCallException error = new("bind", "can0", number);
        Assert.StartsWith($"can0: bind failed with {name} ({number}): ", error.Message, StringComparison.Ordinal);
        Assert.Equal(number, error.ErrorNumber);
    }

    [Fact]
    public void UnknownNumberIsSaidAsANumber() => Assert.Equal("can0: ioctl failed with errno (4095)", new SystemCallException("ioctl", "can0", 4095).Message);

    [Fact]
    public void NameOfAnInterfaceThatCannotExistIsRefused()
    {
        // IFNAMSIZ is 16 with its end mark (linux/if.h). Where the kernel has no CAN at all, that is said first.
        SystemCallException error = Assert.Throws<SystemCallException>(() => CanSocket.Open("an-interface-with-a-long-name", 4096));
        Assert.Contains(error.ErrorNumber, new[] { 19, 93, 97 });
    }
}
