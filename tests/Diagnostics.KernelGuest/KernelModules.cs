using System.Runtime.InteropServices;
using System.Text;

namespace Diagnostics.KernelGuest;

/// <summary>Loads kernel modules in the order given, so that no program for it need be installed. What has an equals sign is a parameter of the module before it.</summary>
internal static unsafe class KernelModules
{
    private const int AlreadyThere = 17;

    internal static void Load(IReadOnlyList<string> words)
    {
        // finit_module (man 2 syscalls): 313 on x86-64, 273 on 64-bit ARM.
        nint number = RuntimeInformation.ProcessArchitecture == Architecture.Arm64 ? 273 : 313;
        for (int place = 0; place < words.Count; place++)
        {
            string path = words[place];
            byte[] parameter = [.. place + 1 < words.Count && words[place + 1].Contains('=', StringComparison.Ordinal) ? Encoding.ASCII.GetBytes(words[++place]) : [], 0];
            int file = GuestCalls.Checked(GuestCalls.open(path, 0), "open " + path);
            fixed (byte* options = parameter)
            {
                if (GuestCalls.syscall(number, file, (nint)options, 0) != 0 && Marshal.GetLastPInvokeError() is var error && error != AlreadyThere)
                {
                    throw new IOException($"loading {path} failed with errno {error}");
                }
            }

            _ = GuestCalls.close(file);
        }
    }
}
