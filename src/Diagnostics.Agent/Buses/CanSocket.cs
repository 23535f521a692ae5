using System.Runtime.InteropServices;
using System.Text;
using Diagnostics.Can;

namespace Diagnostics.Agent.Buses;

/// <summary>
/// A raw CAN socket that only listens: classic and FD frames, every error message, kernel and controller time stamps, the running total of
/// drops, up to 64 messages a call. Owned by one thread. Needs no privilege.
/// </summary>
internal sealed unsafe class CanSocket : IDisposable
{
    internal const int BatchSize = 64;

    private const int AddressSize = 24;
    private const int NameSize = 16;
    private const int FrameRoom = 80;

    /// <summary>Receive in software and hardware, report both: 0x08 | 0x10 | 0x04 | 0x40 (linux/net_tstamp.h).</summary>
    private const int StampRequest = 0x5C;

    private readonly DescriptorHandle _handle;
    private readonly string _name;
    private readonly byte* _memory;
    private readonly LinuxCalls.MessageSlot* _slots;
    private readonly LinuxCalls.MemoryPart* _parts;
    private readonly byte* _frames;
    private readonly byte* _controls;
    private bool _disposed;

    private CanSocket(DescriptorHandle handle, string name)
    {
        _handle = handle;
        _name = name;
        nuint slots = (nuint)(sizeof(LinuxCalls.MessageSlot) * BatchSize);
        nuint parts = (nuint)(sizeof(LinuxCalls.MemoryPart) * BatchSize);
        _memory = (byte*)NativeMemory.AllocZeroed(slots + parts + ((FrameRoom + ReceivedMessage.ControlCapacity) * BatchSize));
        _slots = (LinuxCalls.MessageSlot*)_memory;
        _parts = (LinuxCalls.MemoryPart*)(_memory + slots);
        _controls = _memory + slots + parts;
        _frames = _controls + (ReceivedMessage.ControlCapacity * BatchSize);
    }

    /// <summary>For poll(2).</summary>
    internal int Descriptor => _handle.Number;

    /// <summary>Opens and binds to one interface. Throws <see cref="SystemCallException"/>, whose message says what to do.</summary>
    internal static CanSocket Open(string name, int receiveBufferBytes)
    {
        int descriptor = LinuxCalls.socket(
            LinuxCalls.FamilyCan, LinuxCalls.TypeRaw | LinuxCalls.TypeNonBlocking | LinuxCalls.TypeCloseOnExec, LinuxCalls.ProtocolCanRaw);
        if (descriptor < 0)
        {
            throw new SystemCallException("socket(AF_CAN)", name, Marshal.GetLastPInvokeError());
        }

        CanSocket opened = new(new(descriptor), name);
        try
        {
            opened.Option(LinuxCalls.LevelCanRaw, LinuxCalls.OptionFlexibleFrames, 1, "setsockopt(CAN_RAW_FD_FRAMES)");
            opened.Option(LinuxCalls.LevelCanRaw, LinuxCalls.OptionErrorFilter, (int)CanId.MaxExtended, "setsockopt(CAN_RAW_ERR_FILTER)");
            opened.Option(LinuxCalls.LevelSocket, LinuxCalls.OptionTimestamping, StampRequest, "setsockopt(SO_TIMESTAMPING)");
            opened.Option(LinuxCalls.LevelSocket, LinuxCalls.OptionReceiveQueueOverflow, 1, "setsockopt(SO_RXQ_OVFL)");

            // The forced size needs CAP_NET_ADMIN; without it the kernel cuts the other one silently, which only costs reserve.
            if (!opened.TryOption(LinuxCalls.LevelSocket, LinuxCalls.OptionReceiveBufferForce, receiveBufferBytes))
            {
                opened.Option(LinuxCalls.LevelSocket, LinuxCalls.OptionReceiveBuffer, receiveBufferBytes, "setsockopt(SO_RCVBUF)");
            }

            opened.Bind();
            return opened;
        }
        catch
        {
            opened.Dispose();
            throw;
        }
    }

    /// <summary>
    /// Takes what is there, at once. The number of messages, 0 when there is none, −1 when the kernel says that the interface is gone or down
    /// (it says so once; frames from before may follow). Throws <see cref="SystemCallException"/> for anything else.
    /// </summary>
    internal int Receive()
    {
        for (int i = 0; i < BatchSize; i++)
        {
            _parts[i].Start = _frames + (i * FrameRoom);
            _parts[i].Length = FrameRoom;
            _slots[i].Header = new()
            {
                Parts = _parts + i,
                PartCount = 1,
                Control = _controls + (i * ReceivedMessage.ControlCapacity),
                ControlLength = ReceivedMessage.ControlCapacity,
            };
        }

        int received = LinuxCalls.recvmmsg(_handle.Number, _slots, BatchSize, LinuxCalls.MessageDontWait, null);
        if (received >= 0)
        {
            return received;
        }

        int error = Marshal.GetLastPInvokeError();
        return error switch
        {
            SystemCallException.TryAgain or SystemCallException.InterruptedCall => 0,
            SystemCallException.NetworkDown or SystemCallException.NoSuchDevice => -1,
            _ => throw new SystemCallException("recvmmsg", _name, error),
        };
    }

    /// <summary>A message of the last <see cref="Receive"/>.</summary>
    internal ReadOnlySpan<byte> FrameBytes(int message) =>
        new(_frames + (message * FrameRoom), (int)Math.Min(_slots[message].Received, FrameRoom));

    internal ReadOnlySpan<byte> ControlBytes(int message) =>
        new(_slots[message].Header.Control, (int)Math.Min(_slots[message].Header.ControlLength, ReceivedMessage.ControlCapacity));

    internal int MessageFlags(int message) => _slots[message].Header.Flags;

    public void Dispose()
    {
        if (!_disposed)
        {
            _disposed = true;
            _handle.Dispose();
            NativeMemory.Free(_memory);
        }
    }

    private void Bind()
    {
        // struct ifreq: name 16 bytes, then a union of which the first int is the index; 40 bytes on 64-bit machines.
        byte* request = stackalloc byte[40];
        new Span<byte>(request, 40).Clear();
        if (Encoding.ASCII.GetByteCount(_name) >= NameSize)
        {
            throw new SystemCallException("ioctl(SIOCGIFINDEX)", _name, SystemCallException.NoSuchDevice);
        }

        Encoding.ASCII.GetBytes(_name, new Span<byte>(request, NameSize - 1));
        if (LinuxCalls.ioctl(_handle.Number, LinuxCalls.IndexOfInterface, request) != 0)
        {
            throw new SystemCallException("ioctl(SIOCGIFINDEX)", _name, Marshal.GetLastPInvokeError());
        }

        // struct sockaddr_can: family 0 (u16), interface index 4 (int), the rest is not for raw sockets.
        byte* address = stackalloc byte[AddressSize];
        new Span<byte>(address, AddressSize).Clear();
        *(ushort*)address = LinuxCalls.FamilyCan;
        *(int*)(address + 4) = *(int*)(request + NameSize);
        if (LinuxCalls.bind(_handle.Number, address, AddressSize) != 0)
        {
            throw new SystemCallException("bind", _name, Marshal.GetLastPInvokeError());
        }
    }

    private bool TryOption(int level, int option, int value) =>
        LinuxCalls.setsockopt(_handle.Number, level, option, &value, sizeof(int)) == 0;

    private void Option(int level, int option, int value, string call)
    {
        if (!TryOption(level, option, value))
        {
            throw new SystemCallException(call, _name, Marshal.GetLastPInvokeError());
        }
    }
}
