namespace Diagnostics.Agent.Buses;

/// <summary>How interfaces are read. The defaults suit a small board; each refuses nonsense at once.</summary>
public sealed record SocketCanOptions
{
    /// <summary>Interfaces that one source reads at most: a report page can't show more, and a board has no more sockets for adapters.</summary>
    public const int MaxInterfaces = 16;

    private int _receiveBufferBytes = 2 * 1024 * 1024;
    private TimeSpan _gatherTime = TimeSpan.FromMilliseconds(20);

    /// <summary>A CAN interface that appears while others are read is read as well: an adapter that is plugged in, or that the kernel finds late.</summary>
    public bool ReadsLaterOnes { get; init; }

    /// <summary>
    /// Bytes of receive buffer asked from the kernel for each interface, 1 to 64 MiB. Default 2 MiB: the kernel counts about 900 bytes a
    /// frame, so some 2,300 frames, two seconds of a full bus at 125 kbit/s. Without the right CAP_NET_ADMIN the kernel gives no more than net.core.rmem_max.
    /// </summary>
    public int ReceiveBufferBytes
    {
        get => _receiveBufferBytes;
        init
        {
            ArgumentOutOfRangeException.ThrowIfLessThan(value, 1);
            ArgumentOutOfRangeException.ThrowIfGreaterThan(value, 64 * 1024 * 1024);
            _receiveBufferBytes = value;
        }
    }

    /// <summary>
    /// After frames were read, so long they are left to gather in the kernel, 0 to 500 ms. Default 20 ms: 50 readings a second cost a small
    /// board nearly nothing, and stamps are the kernel's, so no time is lost.
    /// </summary>
    public TimeSpan GatherTime
    {
        get => _gatherTime;
        init
        {
            ArgumentOutOfRangeException.ThrowIfLessThan(value, TimeSpan.Zero);
            ArgumentOutOfRangeException.ThrowIfGreaterThan(value, TimeSpan.FromMilliseconds(500));
            _gatherTime = value;
        }
    }
}
