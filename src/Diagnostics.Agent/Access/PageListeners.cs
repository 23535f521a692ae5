using System.Globalization;
using System.Net;
using System.Net.Sockets;
using System.Security.Authentication;
using Microsoft.AspNetCore.Connections;
using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Server.Kestrel.Core;

namespace Diagnostics.Agent.Access;

/// <summary>
/// The sockets of the page: one pair on loopback, in the clear, which commands use too, and one for each address beyond. Which of them a connection came to says
/// what it may do, not what address it claims to come from.
/// </summary>
/// <param name="port">TCP port; 0 = any free one, and then on 127.0.0.1 only.</param>
/// <param name="beyond">Addresses for other devices.</param>
/// <param name="certificate">Other devices are served over TLS; null = in the clear.</param>
/// <param name="near">Places of loopback.</param>
/// <param name="distant">Places of other devices.</param>
internal sealed class PageListeners(int port, IReadOnlyList<IPAddress> beyond, TlsCertificate? certificate, ConnectionPlaces near, ConnectionPlaces distant)
{
    /// <summary>asm-generic/socket.h, SOL_SOCKET and SO_REUSEPORT.</summary>
    private const int LevelSocket = 1;

    /// <summary>See <see cref="LevelSocket"/>.</summary>
    private const int OptionReusePort = 15;

    private bool IsOnAll => beyond.Any(IsAny);

    private string Scheme => certificate is null ? "http" : "https";

    /// <summary>Which of these addresses another program holds this port of. Every address at once is asked by loopback, which is a part of it.</summary>
    public static (IPAddress[] Free, IPAddress[] Taken) Free(IReadOnlyList<IPAddress> beyond, int port)
    {
        IPAddress[] taken = [.. beyond.Where(address => !IsAny(address) && IsTaken(address, port))];
        return ([.. beyond.Except(taken)], taken);
    }

    public void Use(IWebHostBuilder host)
    {
        // Two sockets that share a port are no sign of another program only if nobody had it before.
        if (IsOnAll && port != 0 && IsTaken(IPAddress.Loopback, port))
        {
            throw new IOException("The port is in use.");
        }

        host.UseKestrelCore().UseKestrelHttpsConfiguration().ConfigureKestrel(Configure);
        if (IsOnAll)
        {
            host.UseSockets(sockets => sockets.CreateBoundListenSocket = Shared);
        }
    }

    /// <summary>What to tell a person, loopback first, of what the server says it is bound to.</summary>
    public IEnumerable<string> Addresses(IEnumerable<string> bound)
    {
        string[] all = [.. bound];
        int loopback = PortOf(all[0]);
        yield return string.Create(CultureInfo.InvariantCulture, $"http://{(port == 0 ? "127.0.0.1" : "localhost")}:{loopback}/");
        foreach (string address in all.Where(address => beyond.Any(known => IsAny(known) ? address.Contains("[::]", StringComparison.Ordinal) || address.Contains("0.0.0.0", StringComparison.Ordinal) : IsAt(address, known))))
        {
            yield return address.Replace("[::]", Environment.MachineName, StringComparison.Ordinal).Replace("0.0.0.0", Environment.MachineName, StringComparison.Ordinal).TrimEnd('/') + "/";
        }
    }

    private static bool IsAt(string url, IPAddress address) =>
        Uri.TryCreate(url, UriKind.Absolute, out Uri? uri) && IPAddress.TryParse(uri.Host.Trim('[', ']'), out IPAddress? bound) && bound.Equals(address);

    private static int PortOf(string url) => new Uri(url.Replace("localhost", "127.0.0.1", StringComparison.Ordinal)).Port;

    /// <summary>A reader or a few on a small board: little is enough. Connections have places of their own.</summary>
    private void Configure(KestrelServerOptions kestrel)
    {
        kestrel.AddServerHeader = false;
        kestrel.Limits.MaxRequestBodySize = Limits.RequestBody;
        kestrel.Limits.MaxRequestHeadersTotalSize = 16 * 1024;
        kestrel.Limits.MaxRequestHeaderCount = 64;
        kestrel.Limits.MaxRequestLineSize = 4 * 1024;
        kestrel.Limits.KeepAliveTimeout = Limits.ConnectionIdle;
        kestrel.Limits.RequestHeadersTimeout = Limits.RequestHeaders;
        kestrel.Limits.MinRequestBodyDataRate = new(Limits.RequestBytesPerSecond, Limits.RateGrace);
        kestrel.Limits.MinResponseDataRate = new(Limits.AnswerBytesPerSecond, Limits.RateGrace);
        if (port == 0)
        {
            kestrel.Listen(IPAddress.Loopback, 0, Near);
        }
        else
        {
            kestrel.ListenLocalhost(port, Near);
        }

        foreach (IPAddress address in beyond)
        {
            if (IsAny(address))
            {
                kestrel.ListenAnyIP(port, Distant);
            }
            else
            {
                kestrel.Listen(address, port, Distant);
            }
        }
    }

    private void Near(ListenOptions listener)
    {
        listener.Protocols = HttpProtocols.Http1;
        near.Guard(listener);
    }

    private void Distant(ListenOptions listener)
    {
        listener.Protocols = HttpProtocols.Http1;
        distant.Guard(listener);
        if (certificate is not null)
        {
            listener.UseHttps(tls =>
            {
                tls.ServerCertificate = certificate.Leaf;
                tls.ServerCertificateChain = certificate.Chain;
                tls.SslProtocols = SslProtocols.Tls12 | SslProtocols.Tls13;
                tls.HandshakeTimeout = Limits.TlsHandshake;
            });
        }
    }

    private static bool IsAny(IPAddress address) => address.Equals(IPAddress.IPv6Any);

    private static bool IsTaken(IPAddress address, int port)
    {
        if (port == 0)
        {
            return false;
        }

        try
        {
            using TcpListener probe = new(address, port);
            probe.Start();
            return false;
        }
        catch (SocketException problem)
        {
            return problem.SocketErrorCode == SocketError.AddressAlreadyInUse;
        }
    }

    /// <summary>
    /// Loopback and "every address" are two sockets on one port: the kernel gives a connection to the one that names its address, and so what comes to loopback
    /// never comes in by the other door, nor the other way about.
    /// </summary>
    private static Socket Shared(EndPoint endpoint)
    {
        IPEndPoint place = (IPEndPoint)endpoint;
        Socket socket = new(place.AddressFamily, SocketType.Stream, ProtocolType.Tcp);
        try
        {
            if (place.Address.Equals(IPAddress.IPv6Any))
            {
                socket.DualMode = true;
            }

            Span<byte> yes = stackalloc byte[sizeof(int)];
            BitConverter.TryWriteBytes(yes, 1);
            socket.SetRawSocketOption(LevelSocket, OptionReusePort, yes);
            socket.Bind(place);
            return socket;
        }
        catch (SocketException)
        {
            socket.Dispose();
            throw;
        }
    }
}
