using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;
using Diagnostics.Agent.Buses;

namespace Diagnostics.Tests.Buses;

/// <summary>Sizes on 64-bit machines: bits/types/struct_iovec.h, bits/socket.h (struct msghdr, struct mmsghdr), poll.h, linux/time_types.h.</summary>
public class LinuxCallsTests
{
    [Fact]
    public void StructuresHaveTheKernelsSizes()
    {
        Assert.SkipUnless(nint.Size == 8, "the sizes are those of 64-bit machines");
        Assert.Equal(16, Unsafe.SizeOf<LinuxCalls.MemoryPart>());
        Assert.Equal(56, Unsafe.SizeOf<LinuxCalls.MessageHeader>());
        Assert.Equal(64, Unsafe.SizeOf<LinuxCalls.MessageSlot>());
        Assert.Equal(8, Unsafe.SizeOf<LinuxCalls.PollEntry>());
        Assert.Equal(16, Unsafe.SizeOf<LinuxCalls.TimeSpecification>());
        Assert.Equal(48, (int)Marshal.OffsetOf<LinuxCalls.MessageHeader>(nameof(LinuxCalls.MessageHeader.Flags)));
    }
}
