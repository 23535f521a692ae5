using System.Net;
using Microsoft.AspNetCore.Connections;
using Microsoft.AspNetCore.Server.Kestrel.Core;

namespace Diagnostics.Agent.Access;

/// <summary>
/// Connections have places, on loopback and beyond apart, so that nothing which comes over the network takes the last one from who sits at the board. A device
/// that has its share gets no more; where all places are taken, the oldest connection of the device that has most, and didn't sign in, makes room.
/// </summary>
/// <param name="isDistant">They come to addresses beyond loopback.</param>
/// <param name="most">At once.</param>
/// <param name="mostOfOne">At once from one device.</param>
internal sealed class ConnectionPlaces(bool isDistant, int most, int mostOfOne)
{
    private readonly Lock _lock = new();

    /// <summary>Oldest first.</summary>
    private readonly List<Arrival> _taken = new(most);

    public int Taken
    {
        get
        {
            lock (_lock)
            {
                return _taken.Count;
            }
        }
    }

    /// <summary>Stands before everything else that a listener does, TLS included.</summary>
    public void Guard(ListenOptions listener) => listener.Use(next => connection => EnterAsync(connection, next));

    private async Task EnterAsync(ConnectionContext connection, ConnectionDelegate next)
    {
        IPAddress from = GuessThrottle.Network((connection.RemoteEndPoint as IPEndPoint)?.Address ?? IPAddress.None);
        Arrival arrival = new(connection, from, isDistant);
        if (!TryTake(arrival))
        {
            connection.Abort(new("All places are taken."));
            return;
        }

        connection.Features.Set(arrival);
        try
        {
            await next(connection).ConfigureAwait(false);
        }
        finally
        {
            lock (_lock)
            {
                _taken.Remove(arrival);
            }
        }
    }

    internal bool TryTake(Arrival arrival)
    {
        Arrival? gone = null;
        lock (_lock)
        {
            if (_taken.Count(other => other.Address.Equals(arrival.Address)) >= mostOfOne)
            {
                return false;
            }

            if (_taken.Count >= most)
            {
                gone = _taken.Where(other => !other.IsSignedIn).GroupBy(other => other.Address).MaxBy(device => device.Count())?.First();
                if (gone is null)
                {
                    return false;
                }

                _taken.Remove(gone);
            }

            _taken.Add(arrival);
        }

        gone?.End();
        return true;
    }
}
