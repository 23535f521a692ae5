using System.Net;

namespace Diagnostics.Agent.Access;

/// <summary>Where the page answers besides the board itself, and by what name, checked. Nothing of it = on the board only.</summary>
internal sealed record AccessSettings
{
    public const string DefaultPasscodeFile = "/etc/diagnostics/passcode";

    /// <summary>Addresses beyond loopback; <see cref="IPAddress.IPv6Any"/> alone = all of them. Empty = none.</summary>
    public IReadOnlyList<IPAddress> ListenOn { get; init; } = [];

    public bool ListensOnAll => ListenOn.Contains(IPAddress.IPv6Any);

    /// <summary>Other devices are served over TLS; null = in the clear.</summary>
    public TlsCertificate? Certificate { get; init; }

    public string PasscodeFile { get; init; } = DefaultPasscodeFile;

    /// <summary>Name of the board in its network, without <c>.local</c>: the page answers to both.</summary>
    public string Name { get; init; } = Environment.MachineName.Split('.')[0].ToLowerInvariant();

    /// <summary>Where the page is served to other devices, the board is announced there by its name.</summary>
    public bool IsAnnounced { get; init; } = true;
}
