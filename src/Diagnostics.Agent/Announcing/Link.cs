using System.Net;
using System.Net.NetworkInformation;
using System.Net.Sockets;

namespace Diagnostics.Agent.Announcing;

/// <summary>A network that the board is connected to.</summary>
/// <param name="Name">Of the interface.</param>
/// <param name="Index">Number of the interface.</param>
/// <param name="Addresses">The board's, with the length of their networks' prefixes in bits.</param>
internal sealed record Link(string Name, int Index, IReadOnlyList<(IPAddress Address, int Prefix)> Addresses)
{
    /// <summary>Those of the board's addresses at which the page is served.</summary>
    public IReadOnlyList<IPAddress> Served { get; init; } = [];

    public bool Has(AddressFamily family) => Addresses.Any(own => own.Address.AddressFamily == family);

    /// <summary>RFC 6762, 11: answers go nowhere else.</summary>
    public bool IsOnIt(IPAddress address) => address.IsIPv6LinkLocal || Addresses.Any(own => own.Address.AddressFamily == address.AddressFamily && IsEqual(own.Address.GetAddressBytes(), address.GetAddressBytes(), own.Prefix));

    /// <summary>The networks in which other devices may hear a name: up, no loopback, and not from one point to another.</summary>
    public static IReadOnlyList<Link> All() =>
    [
        .. NetworkInterface.GetAllNetworkInterfaces()
            .Where(network => network.OperationalStatus == OperationalStatus.Up && network.SupportsMulticast
                && network.NetworkInterfaceType is not (NetworkInterfaceType.Loopback or NetworkInterfaceType.Ppp or NetworkInterfaceType.Tunnel))
            .Select(Of)
            .OfType<Link>(),
    ];

    private static Link? Of(NetworkInterface network)
    {
        try
        {
            IPInterfaceProperties properties = network.GetIPProperties();
            (IPAddress, int)[] addresses = [.. properties.UnicastAddresses.Select(own => (own.Address, own.PrefixLength))];
            int index = addresses.Length == 0 ? 0 : IndexOf(properties);
            return index > 0 ? new(network.Name, index, addresses) : null;
        }
        catch (NetworkInformationException)
        {
            // It went away in between.
            return null;
        }
    }

    private static int IndexOf(IPInterfaceProperties properties)
    {
        try
        {
            return properties.GetIPv4Properties()?.Index ?? properties.GetIPv6Properties().Index;
        }
        catch (NetworkInformationException)
        {
            return properties.GetIPv6Properties().Index;
        }
    }

    private static bool IsEqual(ReadOnlySpan<byte> a, ReadOnlySpan<byte> b, int bits)
    {
        for (int bit = 0; bit < Math.Min(bits, a.Length * 8); bit++)
        {
            if (((a[bit / 8] ^ b[bit / 8]) & (0x80 >> (bit % 8))) != 0)
            {
                return false;
            }
        }

        return true;
    }
}
