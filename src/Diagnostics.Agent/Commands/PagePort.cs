using System.Net;
using System.Net.Sockets;

namespace Diagnostics.Agent.Commands;

/// <summary>Tries the port of the report page before anything is started, so that a port which can't serve is refused in one line.</summary>
internal static class PagePort
{
    /// <summary>For the service: one that is taken may become free, but one that this user may never use is a wrong setting.</summary>
    /// <exception cref="SettingException">This user may not use it.</exception>
    public static void RefuseForbidden(int port)
    {
        if (Try(port) == SocketError.AccessDenied)
        {
            throw new SettingException("port", $"this user may not use port {port}", "choose one from 1024 up with --port, or run it as root");
        }
    }

    /// <exception cref="SettingException">It can't be used now.</exception>
    public static void RefuseTaken(int port)
    {
        RefuseForbidden(port);
        if (Try(port) is { } problem)
        {
            throw problem == SocketError.AddressAlreadyInUse
                ? new SettingException("port", $"another program uses port {port}", "end it, or choose another port with --port")
                : new SettingException("port", $"port {port} can't be used ({problem})", "choose another with --port");
        }
    }

    /// <summary>For the demo, which nobody waits for: the service keeps an address that isn't there, because it may come up later.</summary>
    /// <exception cref="SettingException">This machine has no such address.</exception>
    public static void RefuseAbsent(IReadOnlyList<IPAddress> addresses)
    {
        if (addresses.FirstOrDefault(address => Try(0, address) == SocketError.AddressNotAvailable) is { } absent)
        {
            throw new SettingException(SharedOptions.ListenOn.Name, $"the page can't be served at {absent}: this machine has no such address", "give one that 'ip address' lists, or 'all'");
        }
    }

    private static SocketError? Try(int port, IPAddress? address = null)
    {
        try
        {
            using TcpListener probe = new(address ?? IPAddress.Loopback, port);
            probe.Start();
            return null;
        }
        catch (SocketException problem)
        {
            return problem.SocketErrorCode;
        }
    }
}
