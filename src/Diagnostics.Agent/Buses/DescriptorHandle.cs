using Microsoft.Win32.SafeHandles;

namespace Diagnostics.Agent.Buses;

/// <summary>Owns a file descriptor and closes it once.</summary>
internal sealed class DescriptorHandle : SafeHandleMinusOneIsInvalid
{
    internal DescriptorHandle(int descriptor)
        : base(ownsHandle: true) => SetHandle(descriptor);

    /// <summary>For calls by the owner only, while it keeps this object alive.</summary>
    internal int Number => IsClosed ? -1 : (int)handle;

    protected override bool ReleaseHandle() => LinuxCalls.close((int)handle) == 0;
}
