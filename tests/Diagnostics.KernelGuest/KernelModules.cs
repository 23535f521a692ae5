using System.Runtime.InteropServices;

namespace Diagnostics.KernelGuest;

/// <summary>Loads kernel modules in the order given, so that no program for it need be installed.</summary>
internal static unsafe class KernelModules
{
    private const int AlreadyThere = 17;

    internal static void Load(IEnumerable<string> paths)
    {
        // finit_module (man 2 syscalls): 313 on x86-64, 273 on 64-bit ARM.
        nint number = RuntimeInformation.ProcessArchitecture == Architecture.Arm64 ? 273 : 313;
        byte none = 0;
        foreach (string path in paths)
        {
            int file = GuestCalls.Checked(GuestCalls.open(path, 0), "open " + path);
            if (GuestCalls.syscall(number, file, (nint)(&none), 0) != 0 && Marshal.GetLastPInvokeError() is var error && error != AlreadyThere)
            {
                throw new IOException($"loading {path} failed with errno {error}");
            }

            _ = GuestCalls.close(file);
        }
    }
}
