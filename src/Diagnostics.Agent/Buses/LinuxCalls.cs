using System.Runtime.InteropServices;

namespace Diagnostics.Agent.Buses;

/// <summary>
/// The system calls that listening needs, and no other: there is no call here that could send, so that "nothing is ever transmitted"
/// is a property of the program's import table (a test reads it) and not of its good behaviour.
/// Constants: linux/can.h, linux/can/raw.h, linux/can/error.h, asm-generic/socket.h, linux/net_tstamp.h, linux/rtnetlink.h.
/// </summary>
internal static unsafe partial class LinuxCalls
{
    private const string Library = "libc";

    internal const int FamilyNetlink = 16;
    internal const int FamilyCan = 29;
    internal const int TypeRaw = 3;
    internal const int TypeNonBlocking = 0x800;
    internal const int TypeCloseOnExec = 0x80000;
    internal const int ProtocolCanRaw = 1;
    internal const int ProtocolRoute = 0;

    internal const int LevelSocket = 1;
    internal const int OptionReceiveBuffer = 8;
    internal const int OptionReceiveBufferForce = 33;
    internal const int OptionTimestamping = 37;
    internal const int OptionReceiveQueueOverflow = 40;
    internal const int OptionTimestampingNew = 65;

    internal const int LevelCanRaw = 101;
    internal const int OptionErrorFilter = 2;
    internal const int OptionFlexibleFrames = 5;

    internal const int IndexOfInterface = 0x8933;

    internal const short PollIn = 0x001;

    internal const int MessageDontWait = 0x40;

    internal const int ClockRealtime = 0;
    internal const int ClockBoottime = 7;

    [LibraryImport(Library, SetLastError = true)]
    internal static partial int socket(int family, int type, int protocol);

    [LibraryImport(Library, SetLastError = true)]
    internal static partial int bind(int socket, byte* address, uint addressLength);

    [LibraryImport(Library, SetLastError = true)]
    internal static partial int setsockopt(int socket, int level, int option, void* value, uint length);

    [LibraryImport(Library, SetLastError = true)]
    internal static partial int ioctl(int socket, nuint request, void* argument);

    [LibraryImport(Library, SetLastError = true)]
    internal static partial int recvmmsg(int socket, MessageSlot* messages, uint count, int flags, void* timeout);

    [LibraryImport(Library, SetLastError = true)]
    internal static partial int poll(PollEntry* entries, nuint count, int timeoutMilliseconds);

    [LibraryImport(Library, SetLastError = true)]
    internal static partial int pipe2(int* ends, int flags);

    [LibraryImport(Library, SetLastError = true)]
    internal static partial int close(int descriptor);

    [LibraryImport(Library, SetLastError = true)]
    internal static partial int clock_gettime(int clock, TimeSpecification* time);

    /// <summary>Nanoseconds of a Linux clock.</summary>
    internal static long Now(int clock)
    {
        TimeSpecification time;
        return clock_gettime(clock, &time) == 0
            ? checked(((long)time.Seconds * 1_000_000_000) + (long)time.Nanoseconds)
            : throw new SystemCallException("clock_gettime", "clock", Marshal.GetLastPInvokeError());
    }

    /// <summary>
    /// The wall clock and the time since boot of one moment. On a busy board a thread may be put aside between the two readings, which would
    /// look like a clock that was set: so the wall clock is read between two readings of the other, until those lie close together.
    /// </summary>
    internal static (long Wall, long SinceBoot) NowOfBoth()
    {
        const int Attempts = 8;
        const long CloseNanoseconds = 1_000_000;
        (long Wall, long SinceBoot) best = default;
        long narrowest = long.MaxValue;
        for (int i = 0; i < Attempts && narrowest > CloseNanoseconds; i++)
        {
            long before = Now(ClockBoottime);
            long wall = Now(ClockRealtime);
            long width = Now(ClockBoottime) - before;
            if (width < narrowest)
            {
                narrowest = width;
                best = (wall, before + (width / 2));
            }
        }

        return best;
    }

    /// <summary>Nanoseconds since boot, the time that the board slept included.</summary>
    internal static long SinceBoot() => Now(ClockBoottime);

    /// <summary>struct timespec: two longs of the machine's word size.</summary>
    internal struct TimeSpecification
    {
        internal nint Seconds;
        internal nint Nanoseconds;
    }

    /// <summary>struct pollfd, 8 bytes.</summary>
    internal struct PollEntry
    {
        internal int Descriptor;
        internal short Events;
        internal short Returned;
    }

    /// <summary>struct iovec.</summary>
    internal struct MemoryPart
    {
        internal byte* Start;
        internal nuint Length;
    }

    /// <summary>struct msghdr; on 64-bit machines its end is padded to 56 bytes.</summary>
    internal struct MessageHeader
    {
        internal byte* Name;
        internal uint NameLength;
        internal MemoryPart* Parts;
        internal nuint PartCount;
        internal byte* Control;
        internal nuint ControlLength;
        internal int Flags;
    }

    /// <summary>struct mmsghdr: a header and the number of bytes received; 64 bytes on 64-bit machines.</summary>
    internal struct MessageSlot
    {
        internal MessageHeader Header;
        internal uint Received;
    }
}
