using System.Net;
using System.Net.Sockets;

namespace Diagnostics.Agent.Access;

/// <summary>Checks the settings of access, each as it was given.</summary>
internal static class AccessSettingsReader
{
    private const string All = "all";

    /// <summary>One label of a name of a host (RFC 1123, 2.1): it also has to fit into one of DNS.</summary>
    private const int LongestLabel = 63;

    /// <param name="given">What was given under a name, and how messages name that; null = nothing.</param>
    /// <exception cref="SettingException">Something given can't be used.</exception>
    public static AccessSettings Read(Func<string, (string Text, string Which)?> given)
    {
        AccessSettings usual = new();
        return usual with
        {
            ListenOn = given("listenOn") is { } listenOn ? Addresses(listenOn.Text, listenOn.Which) : [],
            Certificate = Certificate(given("certificate"), given("certificateKey")),
            PasscodeFile = given("passcodeFile") is { } file ? Absolute(file.Text, file.Which) : usual.PasscodeFile,
            IsAnnounced = given("announce") is not { } announce || IsYes(announce.Text, announce.Which),
            Name = given("name") is { } name ? Label(name.Text, name.Which) : usual.Name,
        };
    }

    private static IReadOnlyList<IPAddress> Addresses(string text, string which)
    {
        string[] parts = text.Split([',', ' '], StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries);
        if (parts.Length > Limits.ListenAddresses)
        {
            throw new SettingException(which, $"these are more than {Limits.ListenAddresses} addresses", $"give fewer, or '{All}'");
        }

        List<IPAddress> addresses = [];
        foreach (string part in parts)
        {
            if (part.Equals(All, StringComparison.OrdinalIgnoreCase))
            {
                return parts.Length == 1 ? [IPAddress.IPv6Any] : throw new SettingException(which, $"'{All}' stands beside addresses", "give one or the other");
            }

            // A number alone is an address to the library: 1 would be 0.0.0.1.
            if (!IPAddress.TryParse(part, out IPAddress? address) || (address.AddressFamily == AddressFamily.InterNetwork && part.Count(character => character == '.') != 3))
            {
                throw new SettingException(which, $"'{part}' is no address", $"give addresses of this board as 'ip address' lists them, separated by commas, or '{All}'");
            }

            if (address.Equals(IPAddress.Any) || address.Equals(IPAddress.IPv6Any))
            {
                throw new SettingException(which, $"'{part}' stands for every address", $"write '{All}' if that is meant");
            }

            if (address.Equals(IPAddress.Loopback) || address.Equals(IPAddress.IPv6Loopback))
            {
                throw new SettingException(which, $"'{part}' is this board itself, where the page is always served", "leave it out");
            }

            if (address.AddressFamily == AddressFamily.InterNetwork ? address.GetAddressBytes()[0] is >= 224 : address.IsIPv6Multicast)
            {
                throw new SettingException(which, $"'{part}' is the address of a group", "give addresses of this board as 'ip address' lists them");
            }

            if (!addresses.Contains(address))
            {
                addresses.Add(address);
            }
        }

        return addresses;
    }

    private static TlsCertificate? Certificate((string Text, string Which)? certificate, (string Text, string Which)? key) => (certificate, key) switch
    {
        (null, null) => null,
        ({ } chain, { } own) => TlsCertificate.Read(chain.Text, chain.Which, own.Text, own.Which),
        ({ } chain, null) => throw new SettingException(chain.Which, "there is no key to it", "name its file as certificateKey"),
        (null, { } own) => throw new SettingException(own.Which, "there is no certificate to it", "name its file as certificate"),
    };

    private static bool IsYes(string text, string which) => text.ToLowerInvariant() switch
    {
        "yes" or "true" => true,
        "no" or "false" => false,
        _ => throw new SettingException(which, $"'{text}' is neither yes nor no", "write yes or no"),
    };

    private static string Absolute(string text, string which) => text.Length > 0 && text[0] == '/' && !text.EndsWith('/') && !text.Contains('\0', StringComparison.Ordinal)
        ? text
        : throw new SettingException(which, $"'{text}' is no whole path of a file", $"give one that begins with /, for example {AccessSettings.DefaultPasscodeFile}");

    private static string Label(string text, string which)
    {
        string label = text.EndsWith(".local", StringComparison.OrdinalIgnoreCase) ? text[..^6] : text;
        return label.Length is > 0 and <= LongestLabel && label[0] != '-' && label[^1] != '-' && label.All(character => char.IsAsciiLetterOrDigit(character) || character == '-')
            ? label.ToLowerInvariant()
            : throw new SettingException(which, $"'{text}' can't be the name of a board", $"use up to {LongestLabel} letters, digits and hyphens, for example plant-room");
    }
}
