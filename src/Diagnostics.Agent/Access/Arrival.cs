using System.Net;
using Microsoft.AspNetCore.Connections;

namespace Diagnostics.Agent.Access;

/// <summary>One connection to the page, and by which door it came. A feature of the connection, and so of each request on it.</summary>
/// <param name="connection">To end it.</param>
/// <param name="address">Of the device at the other end.</param>
/// <param name="isDistant">It came to an address beyond loopback: whoever it is has to sign in.</param>
internal sealed class Arrival(ConnectionContext connection, IPAddress address, bool isDistant)
{
    private volatile bool _isSignedIn;

    public IPAddress Address => address;

    public bool IsDistant => isDistant;

    /// <summary>Somebody who had signed in used it.</summary>
    public bool IsSignedIn
    {
        get => _isSignedIn;
        set => _isSignedIn = value;
    }

    public void End() => connection.Abort(new("Its place was needed."));
}
