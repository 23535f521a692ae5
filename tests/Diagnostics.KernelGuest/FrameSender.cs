using System.Buffers.Binary;
using System.Runtime.InteropServices;

namespace Diagnostics.KernelGuest;

/// <summary>A device on a virtual bus: sends what it is told to. Layouts: linux/can.h.</summary>
internal sealed unsafe class FrameSender : IDisposable
{
    internal const uint Extended = 0x8000_0000;
    internal const uint Remote = 0x4000_0000;
    internal const byte BitRateSwitch = 0x01;

    private const int NoBufferSpace = 105;

    private readonly int _socket;

    internal FrameSender(string name)
    {
        _socket = GuestCalls.Checked(GuestCalls.socket(29, 3, 1), "socket");
        int on = 1;
        GuestCalls.Checked(GuestCalls.setsockopt(_socket, 101, 5, &on, sizeof(int)), "setsockopt");
        byte* address = stackalloc byte[24];
        new Span<byte>(address, 24).Clear();
        *(ushort*)address = 29;
        *(uint*)(address + 4) = GuestCalls.if_nametoindex(name);
        GuestCalls.Checked(GuestCalls.bind(_socket, address, 24), "bind");
    }

    internal void Send(uint word, ReadOnlySpan<byte> data) => Send(word, data, 16, (byte)data.Length, 0);

    internal void SendRemote(uint word, byte length) => Send(word | Remote, default, 16, length, 0);

    internal void SendFlexible(uint word, ReadOnlySpan<byte> data, byte flags) => Send(word, data, 72, (byte)data.Length, flags);

    public void Dispose() => _ = GuestCalls.close(_socket);

    private void Send(uint word, ReadOnlySpan<byte> data, int size, byte length, byte flags)
    {
        Span<byte> frame = stackalloc byte[72];
        frame.Clear();
        BinaryPrimitives.WriteUInt32LittleEndian(frame, word);
        frame[4] = length;
        frame[5] = flags;
        data.CopyTo(frame[8..]);
        fixed (byte* start = frame)
        {
            while (GuestCalls.write(_socket, start, (nuint)size) != size)
            {
                int error = Marshal.GetLastPInvokeError();
                if (error != NoBufferSpace)
                {
                    throw new IOException($"write failed with errno {error}");
                }
            }
        }
    }
}
