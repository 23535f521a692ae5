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

    private static SocketError? Try(int port)
    {
        try
        {
            using TcpListener probe = new(IPAddress.Loopback, port);
            probe.Start();
            return null;
        }
        catch (SocketException problem)
        {
            return problem.SocketErrorCode;
        }
    }
}
