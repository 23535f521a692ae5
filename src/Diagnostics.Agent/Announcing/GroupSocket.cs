using System.Net;
using System.Net.Sockets;

namespace Diagnostics.Agent.Announcing;

/// <summary>
/// The group of multicast DNS on one network. It is bound to the group's address and not to every address, so that what comes to this board alone stays with a name
/// service that runs here already; the port is shared with that.
/// </summary>
internal sealed class GroupSocket : IDisposable
{
    /// <summary>RFC 6762, 11: the receiver could check that no router was passed.</summary>
    private const int HopLimit = 255;

    /// <summary>asm-generic/socket.h: SOL_SOCKET, SO_REUSEADDR, SO_REUSEPORT.</summary>
    private const int LevelSocket = 1;
    private const int OptionReuseAddress = 2;
    private const int OptionReusePort = 15;

    /// <summary>linux/in.h: IPPROTO_IP, IP_MULTICAST_ALL. Off: only what comes by the network that was joined here.</summary>
    private const int LevelIp = 0;
    private const int OptionMulticastAll = 49;

    /// <summary>RFC 6762, 3.</summary>
    private static readonly IPAddress Group4 = IPAddress.Parse("224.0.0.251");
    private static readonly IPAddress Group6 = IPAddress.Parse("ff02::fb");

    private readonly Socket _socket;

    private GroupSocket(Socket socket, IPEndPoint group)
    {
        _socket = socket;
        Group = group;
    }

    public IPEndPoint Group { get; }

    /// <exception cref="SocketException">The port is another program's alone, or the kernel or a sandbox refuses.</exception>
    public static GroupSocket Open(AddressFamily family, int index)
    {
        bool isOld = family == AddressFamily.InterNetwork;
        IPEndPoint group = isOld ? new(Group4, NameResponder.Port) : new(new IPAddress(Group6.GetAddressBytes(), index), NameResponder.Port);
        Socket socket = new(family, SocketType.Dgram, ProtocolType.Udp);
        try
        {
            Set(socket, LevelSocket, OptionReuseAddress, 1);
            Set(socket, LevelSocket, OptionReusePort, 1);
            socket.Bind(group);
            if (isOld)
            {
                Set(socket, LevelIp, OptionMulticastAll, 0);
                socket.SetSocketOption(SocketOptionLevel.IP, SocketOptionName.AddMembership, new MulticastOption(Group4, index));
                socket.SetSocketOption(SocketOptionLevel.IP, SocketOptionName.MulticastInterface, IPAddress.HostToNetworkOrder(index));
                socket.SetSocketOption(SocketOptionLevel.IP, SocketOptionName.MulticastTimeToLive, HopLimit);
                socket.SetSocketOption(SocketOptionLevel.IP, SocketOptionName.IpTimeToLive, HopLimit);
            }
            else
            {
                socket.SetSocketOption(SocketOptionLevel.IPv6, SocketOptionName.AddMembership, new IPv6MulticastOption(Group6, index));
                socket.SetSocketOption(SocketOptionLevel.IPv6, SocketOptionName.MulticastInterface, index);
                socket.SetSocketOption(SocketOptionLevel.IPv6, SocketOptionName.MulticastTimeToLive, HopLimit);
                socket.SetSocketOption(SocketOptionLevel.IPv6, SocketOptionName.HopLimit, HopLimit);
            }

            return new(socket, group);
        }
        catch
        {
            socket.Dispose();
            throw;
        }
    }

    public void Dispose() => _socket.Dispose();

    /// <exception cref="SocketException">The network or a filter refuses.</exception>
    public void Send(ReadOnlySpan<byte> message, IPEndPoint to) => _socket.SendTo(message, SocketFlags.None, to);

    /// <summary>Waits for the next message.</summary>
    public async Task<(int Length, IPEndPoint From)> ReceiveAsync(Memory<byte> buffer, CancellationToken cancellation)
    {
        SocketReceiveFromResult received = await _socket.ReceiveFromAsync(buffer, SocketFlags.None, new IPEndPoint(Group.Address.AddressFamily == AddressFamily.InterNetwork ? IPAddress.Any : IPAddress.IPv6Any, 0), cancellation).ConfigureAwait(false);
        return (received.ReceivedBytes, (IPEndPoint)received.RemoteEndPoint);
    }

    private static void Set(Socket socket, int level, int option, int value)
    {
        Span<byte> bytes = stackalloc byte[sizeof(int)];
        BitConverter.TryWriteBytes(bytes, value);
        socket.SetRawSocketOption(level, option, bytes);
    }
}
