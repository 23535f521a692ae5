using System.Net;
using System.Net.Sockets;
using Diagnostics.Agent.Access;
using Diagnostics.Core.Wording;
using Microsoft.Extensions.Logging;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Announcing;

/// <summary>
/// Announces the board by its name in the networks in which its page is served: NAME.local, and the page as a service, beside whatever name service runs here already.
/// What goes wrong is told and tried again; the page itself doesn't wait for it.
/// </summary>
/// <param name="settings">Name, and whether the page is encrypted.</param>
/// <param name="clock">For time spans.</param>
/// <param name="tell">What is in the way, or another name than the one that was asked for; null = nothing.</param>
/// <param name="onName">The name that holds now; null = none.</param>
/// <param name="logger">The journal.</param>
/// <param name="links">The networks; null = those of the board.</param>
internal sealed partial class NameAnnouncer(AccessSettings settings, TimeProvider clock, Action<Sentence?> tell, Action<string?> onName, ILogger logger, Func<IReadOnlyList<Link>>? links = null)
{
    private const string Suffix = ".local";

    /// <summary>Own messages come back, as others on this board must hear them too; so many of the latest are known again.</summary>
    private const int KnownAgain = 64;

    private readonly Func<IReadOnlyList<Link>> _links = links ?? Link.All;
    private readonly Lock _lock = new();
    private readonly Queue<byte[]> _sent = new();
    private readonly SemaphoreSlim _news = new(0);
    private HashSet<IPAddress> _own = [];
    private int _number = 1;

    private string Label => _number == 1 ? settings.Name
        : string.Create(System.Globalization.CultureInfo.InvariantCulture, $"{settings.Name[..Math.Min(settings.Name.Length, DnsName.LongestLabel - 4)]}-{_number}");

    private TimeSpan Now => clock.GetElapsedTime(0);

    /// <summary>Until it is cancelled; then the names are given back.</summary>
    /// <param name="listenOn">Where the page is served; <see cref="IPAddress.IPv6Any"/> = everywhere.</param>
    /// <param name="port">Of the page.</param>
    /// <param name="stopping">The end.</param>
    public async Task RunAsync(IReadOnlyList<IPAddress> listenOn, int port, CancellationToken stopping)
    {
        while (!stopping.IsCancellationRequested)
        {
            try
            {
                IReadOnlyList<Link> there = Served(listenOn);
                await AnnounceAsync(there, () => Served(listenOn), port, stopping).ConfigureAwait(false);
            }
            catch (SocketException problem)
            {
                onName(null);
                string why = problem.SocketErrorCode.ToString();
                Failed(why);
                tell(problem.SocketErrorCode == SocketError.AddressAlreadyInUse
                    ? Say($"This board’s name is not announced: another program holds UDP port 5353 and doesn’t share it. The page is served all the same; reach it by its address, or by the name that the other program announces.")
                    : Say($"This board’s name is not announced: the network or a packet filter refuses ({Named(why)}). The page is served all the same; reach it by its address."));
                await Task.Delay(Limits.RetryPart, clock, stopping).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            }
        }

        onName(null);
    }

    /// <summary>The networks of which an address is served, with these addresses. Those of IPv6 that hold on a single link need its number, which a browser can't be told by a name.</summary>
    private Link[] Served(IReadOnlyList<IPAddress> listenOn)
    {
        IReadOnlyList<Link> all = _links();
        _own = [.. all.SelectMany(link => link.Addresses).Select(own => Bare(own.Address))];
        return
        [
            .. all.Select(link => link with { Served = [.. link.Addresses.Select(own => own.Address).Where(own => !own.IsIPv6LinkLocal && (listenOn.Contains(IPAddress.IPv6Any) || listenOn.Contains(own)))] })
                .Where(link => link.Served.Count > 0),
        ];
    }

    private static IPAddress Bare(IPAddress address) => new(address.GetAddressBytes());

    /// <summary>Announces in these networks until they are others, the name is taken, or it is the end.</summary>
    private async Task AnnounceAsync(IReadOnlyList<Link> there, Func<IReadOnlyList<Link>> look, int port, CancellationToken stopping)
    {
        string label = Label;
        List<Place> places = [];
        using CancellationTokenSource over = CancellationTokenSource.CreateLinkedTokenSource(stopping);
        List<Task> listening = [];
        bool isHeld = false;
        try
        {
            foreach (Link link in there)
            {
                AnnouncedService service = new(label, port, settings.Certificate is not null, link.Served);
                Place place = new(link, new(service, address => _own.Contains(Bare(address)), Now, new Random(HashCode.Combine(label, link.Index, Now.Ticks))));
                places.Add(place);
                foreach (AddressFamily family in new[] { AddressFamily.InterNetwork, AddressFamily.InterNetworkV6 }.Where(link.Has))
                {
                    GroupSocket socket = GroupSocket.Open(family, link.Index);
                    place.Sockets.Add(socket);
                    listening.Add(ListenAsync(place, socket, over.Token));
                }
            }

            if (places.Count == 0)
            {
                tell(null);
            }

            while (!stopping.IsCancellationRequested && listening.TrueForAll(task => !task.IsCompleted))
            {
                TimeSpan wait = Limits.AccessLook;
                lock (_lock)
                {
                    foreach (Place place in places)
                    {
                        Send(place, place.Responder.OnTick(Now));
                        wait = place.Responder.Due is { } due && due - Now < wait ? due - Now : wait;
                    }
                }

                if (places.Exists(place => place.Responder.State == NameState.Taken))
                {
                    await GiveWayAsync(label, stopping).ConfigureAwait(false);
                    return;
                }

                if (isHeld != (places.Count > 0 && places.TrueForAll(place => place.Responder.State == NameState.Held)))
                {
                    isHeld = !isHeld;
                    Hold(isHeld ? label : null);
                }

                if (wait > TimeSpan.Zero && !await _news.WaitAsync(wait, stopping).ConfigureAwait(false) && !look().Select(Said).SequenceEqual(there.Select(Said)))
                {
                    return;
                }
            }

            // A socket that failed says why.
            foreach (Task failed in listening.Where(task => task.IsFaulted))
            {
                await failed.ConfigureAwait(false);
            }
        }
        catch (OperationCanceledException) when (stopping.IsCancellationRequested)
        {
        }
        finally
        {
            onName(null);
            await over.CancelAsync().ConfigureAwait(false);
            foreach (Place place in places)
            {
                TakeLeave(place);
            }

            await Task.WhenAll(listening).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            places.ForEach(place => place.Dispose());
        }

        static string Said(Link link) => link.Index + " " + string.Join(' ', link.Served);
    }

    private void Hold(string? label)
    {
        onName(label is null ? null : label + Suffix);
        if (label is not null)
        {
            Announced(label + Suffix);
            tell(_number == 1 ? null : Say($"Another device in this network is called {Named(settings.Name + Suffix)}, so this board is announced as {Named(label + Suffix)}. Give it a name of its own: the setting name."));
        }
    }

    /// <summary>RFC 6762, 8.1 and 9: another name; after many of them, slowly.</summary>
    private async Task GiveWayAsync(string label, CancellationToken stopping)
    {
        Taken(label + Suffix);
        _number++;
        if (_number > Limits.AnnouncedNames)
        {
            _number = 1;
            tell(Say($"This board’s name is not announced: {Named(settings.Name + Suffix)} and {Limits.AnnouncedNames - 1:N0} names like it are taken by other devices. Give it a name of its own: the setting name."));
            await Task.Delay(Limits.RetryPart, clock, stopping).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        }
    }

    private async Task ListenAsync(Place place, GroupSocket socket, CancellationToken over)
    {
        byte[] buffer = new byte[DnsMessage.LongestBytes];
        while (true)
        {
            (int length, IPEndPoint from) = await socket.ReceiveAsync(buffer, over).ConfigureAwait(false);
            lock (_lock)
            {
                ReadOnlySpan<byte> message = buffer.AsSpan(0, length);
                if (place.Link.IsOnIt(from.Address) && !IsOwn(message))
                {
                    Send(place, place.Responder.OnMessage(message, from, Now));
                }
            }

            _news.Release();
        }
    }

    private bool IsOwn(ReadOnlySpan<byte> message)
    {
        foreach (byte[] sent in _sent)
        {
            if (message.SequenceEqual(sent))
            {
                return true;
            }
        }

        return false;
    }

    private void Send(Place place, IReadOnlyList<Outgoing> outgoing)
    {
        foreach (Outgoing one in outgoing)
        {
            _sent.Enqueue(one.Message);
            while (_sent.Count > KnownAgain)
            {
                _sent.Dequeue();
            }

            foreach (GroupSocket socket in place.Sockets.Where(socket => one.To is null || one.To.AddressFamily == socket.Group.AddressFamily))
            {
                socket.Send(one.Message, one.To ?? socket.Group);
            }
        }
    }

    private void TakeLeave(Place place)
    {
        if (place.Responder.Farewell() is { } farewell)
        {
            try
            {
                Send(place, [new(farewell, null)]);
            }
            catch (SocketException)
            {
                // Nobody hears it: what others remember runs out by itself.
            }
        }
    }

    [LoggerMessage(36, LogLevel.Information, "name: announced as {Name}.")]
    private partial void Announced(string name);

    [LoggerMessage(37, LogLevel.Warning, "name: {Name} is another device's; trying another one.")]
    private partial void Taken(string name);

    [LoggerMessage(38, LogLevel.Warning, "name: not announced ({Why}): UDP port 5353 can't be used. The page is served all the same; trying again every minute.")]
    private partial void Failed(string why);

    /// <summary>One network: who answers there, and by which sockets.</summary>
    private sealed class Place(Link link, NameResponder responder) : IDisposable
    {
        public Link Link => link;

        public NameResponder Responder => responder;

        public List<GroupSocket> Sockets { get; } = [];

        public void Dispose() => Sockets.ForEach(socket => socket.Dispose());
    }
}
