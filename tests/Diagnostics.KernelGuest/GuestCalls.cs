using System.Runtime.InteropServices;

namespace Diagnostics.KernelGuest;

/// <summary>System calls of the test's own: sending, playing an adapter, loading modules. The product has none of them.</summary>
internal static unsafe partial class GuestCalls
{
    private const string Library = "libc";

    [LibraryImport(Library, SetLastError = true)]
    internal static partial int socket(int family, int type, int protocol);

    [LibraryImport(Library, SetLastError = true)]
    internal static partial int bind(int socket, byte* address, uint length);

    [LibraryImport(Library, SetLastError = true)]
    internal static partial int setsockopt(int socket, int level, int option, void* value, uint length);

    [LibraryImport(Library, SetLastError = true, StringMarshalling = StringMarshalling.Utf8)]
    internal static partial uint if_nametoindex(string name);

    [LibraryImport(Library, SetLastError = true, StringMarshalling = StringMarshalling.Utf8)]
    internal static partial int open(string path, int flags);

    [LibraryImport(Library, SetLastError = true)]
    internal static partial nint read(int descriptor, byte* buffer, nuint length);

    [LibraryImport(Library, SetLastError = true)]
    internal static partial nint write(int descriptor, byte* buffer, nuint length);

    [LibraryImport(Library, SetLastError = true)]
    internal static partial int close(int descriptor);

    [LibraryImport(Library, SetLastError = true)]
    internal static partial int ioctl(int descriptor, nuint request, void* argument);

    [LibraryImport(Library, SetLastError = true)]
    internal static partial int posix_openpt(int flags);

    [LibraryImport(Library, SetLastError = true)]
    internal static partial int grantpt(int descriptor);

    [LibraryImport(Library, SetLastError = true)]
    internal static partial int unlockpt(int descriptor);

    [LibraryImport(Library, SetLastError = true)]
    internal static partial int ptsname_r(int descriptor, byte* buffer, nuint length);

    [LibraryImport(Library, SetLastError = true)]
    internal static partial int tcgetattr(int descriptor, byte* settings);

    [LibraryImport(Library, SetLastError = true)]
    internal static partial int tcsetattr(int descriptor, int when, byte* settings);

    [LibraryImport(Library)]
    internal static partial void cfmakeraw(byte* settings);

    [LibraryImport(Library, SetLastError = true)]
    internal static partial nint syscall(nint number, nint first, nint second, nint third);

    internal static int Checked(int result, string call) =>
        result >= 0 ? result : throw new IOException($"{call} failed with errno {Marshal.GetLastPInvokeError()}");
}
