using System.Net;
using System.Net.Sockets;

namespace Diagnostics.Agent.Access;

/// <summary>
/// Slows guessing. An address has five tries; after each further wrong one it waits twice as long as before, up to five minutes, and after a quiet hour it begins
/// anew, so that nobody is shut out for good. All addresses that never signed in share 30 tries and one more each ten seconds, since a network has more addresses
/// than can be remembered; who signed in before isn't held up by what others do. A try is counted before it is judged, so that many at once are no way around.
/// </summary>
internal sealed class GuessThrottle(TimeProvider clock)
{
    public const int FreeTries = 5;
    public const int TriesOfStrangers = 30;
    public static readonly TimeSpan LongestWait = TimeSpan.FromMinutes(5);
    public static readonly TimeSpan StrangersInterval = TimeSpan.FromSeconds(10);
    private static readonly TimeSpan Forgotten = TimeSpan.FromHours(1);

    private readonly Lock _lock = new();
    private readonly Dictionary<IPAddress, Tries> _tries = [];
    private readonly LinkedList<IPAddress> _known = [];

    /// <summary>When the strangers' tries are all there again (a leaky bucket as one time stamp).</summary>
    private TimeSpan _strangersFullAt;

    private readonly long _start = clock.GetTimestamp();

    private readonly record struct Tries(int Count, TimeSpan Last, TimeSpan NotBefore);

    /// <summary>A try begins. False where it must wait, and then nothing is to be checked.</summary>
    public bool TryBegin(IPAddress from, out TimeSpan wait)
    {
        IPAddress address = Network(from);
        lock (_lock)
        {
            TimeSpan now = clock.GetElapsedTime(_start);
            Tries tries = _tries.TryGetValue(address, out Tries known) && now - known.Last < Forgotten ? known : default;
            wait = tries.NotBefore - now;
            if (wait > TimeSpan.Zero)
            {
                return false;
            }

            bool isStranger = !_known.Contains(address);
            if (isStranger)
            {
                TimeSpan fullAt = (_strangersFullAt > now ? _strangersFullAt : now) + StrangersInterval;
                wait = fullAt - now - (TriesOfStrangers * StrangersInterval);
                if (wait > TimeSpan.Zero)
                {
                    return false;
                }

                _strangersFullAt = fullAt;
            }

            int count = tries.Count + 1;
            _tries[address] = new(count, now, count < FreeTries ? now : now + Delay(count));
            if (_tries.Count > Limits.GuessingAddresses)
            {
                _tries.Remove(_tries.MinBy(pair => pair.Value.Last).Key);
            }

            wait = TimeSpan.Zero;
            return true;
        }
    }

    /// <summary>The try was right: it is forgotten, and the address is known.</summary>
    public void Succeeded(IPAddress from)
    {
        IPAddress address = Network(from);
        lock (_lock)
        {
            _tries.Remove(address);
            if (!_known.Remove(address))
            {
                _strangersFullAt -= StrangersInterval;
            }

            _known.AddLast(address);
            if (_known.Count > Limits.KnownAddresses)
            {
                _known.RemoveFirst();
            }
        }
    }

    /// <summary>What stands for one device: of IPv6 a whole network of 64 bits, as a device has all of its addresses.</summary>
    internal static IPAddress Network(IPAddress address)
    {
        if (address.IsIPv4MappedToIPv6)
        {
            return address.MapToIPv4();
        }

        if (address.AddressFamily != AddressFamily.InterNetworkV6)
        {
            return address;
        }

        byte[] bytes = address.GetAddressBytes();
        bytes.AsSpan(address.IsIPv6LinkLocal ? 16 : 8).Clear();
        return new(bytes);
    }

    private static TimeSpan Delay(int count)
    {
        double seconds = Math.Pow(2, Math.Min(count - FreeTries, 16));
        return seconds < LongestWait.TotalSeconds ? TimeSpan.FromSeconds(seconds) : LongestWait;
    }
}
