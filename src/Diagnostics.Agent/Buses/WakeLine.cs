using System.Runtime.InteropServices;

namespace Diagnostics.Agent.Buses;

/// <summary>
/// Ends a thread's wait in poll(2), once. It is a pipe whose writing end gets closed, which poll tells as a hang-up: so no call that
/// writes is needed (an event descriptor would need one).
/// </summary>
internal sealed unsafe class WakeLine : IDisposable
{
    private readonly DescriptorHandle _read;
    private readonly DescriptorHandle _write;

    internal WakeLine()
    {
        int* ends = stackalloc int[2];
        if (LinuxCalls.pipe2(ends, LinuxCalls.TypeCloseOnExec) != 0)
        {
            throw new SystemCallException("pipe2", "cancellation", Marshal.GetLastPInvokeError());
        }

        _read = new(ends[0]);
        _write = new(ends[1]);
    }

    /// <summary>What to poll; it hangs up after <see cref="Signal"/>.</summary>
    internal int Descriptor => _read.Number;

    internal void Signal() => _write.Dispose();

    public void Dispose()
    {
        _write.Dispose();
        _read.Dispose();
    }
}
