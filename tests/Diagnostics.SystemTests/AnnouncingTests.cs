using System.Net;
using System.Net.Sockets;
using System.Threading.Channels;
using Diagnostics.Agent.Access;
using Diagnostics.Agent.Announcing;
using Diagnostics.Core.Wording;
using Microsoft.Extensions.Logging.Abstractions;

namespace Diagnostics.SystemTests;

/// <summary>The board's name through the kernel's real multicast, on loopback only, so that nothing of it leaves this machine.</summary>
public sealed class AnnouncingTests
{
    private const int Loopback = 1;
    private const int PagePort = 8480;

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    /// <summary>One board: what it tells, and its end.</summary>
    private sealed class Board : IAsyncDisposable
    {
        private readonly CancellationTokenSource _over = new();
        private readonly Task _running;

        public Board(string name, string address)
        {
            // What goes out on loopback bears an address of another interface, so all of them are neighbours here.
            IPAddress own = IPAddress.Parse(address);
            NameAnnouncer announcer = new(
                new() { Name = name, ListenOn = [own] },
                TimeProvider.System,
                trouble => Troubles.Writer.TryWrite(trouble),
                held => Names.Writer.TryWrite(held),
                NullLogger.Instance,
                () => [new("lo", Loopback, [(own, 0)])]);
            _running = announcer.RunAsync([own], PagePort, _over.Token);
        }

        public Channel<string?> Names { get; } = Channel.CreateUnbounded<string?>();

        public Channel<Sentence?> Troubles { get; } = Channel.CreateUnbounded<Sentence?>();

        public async Task<string> NameAsync()
        {
            while (true)
            {
                if (await Names.Reader.ReadAsync(Cancellation) is { } name)
                {
                    return name;
                }
            }
        }

        public async ValueTask DisposeAsync()
        {
            await _over.CancelAsync();
            await _running;
            _over.Dispose();
        }
    }

    private static GroupSocket Group()
    {
        try
        {
            return GroupSocket.Open(AddressFamily.InterNetwork, Loopback);
        }
        catch (SocketException problem)
        {
            Assert.Skip($"There is no multicast on loopback here ({problem.SocketErrorCode}).");
            throw;
        }
    }

    private static async Task<DnsMessage> HeardAsync(GroupSocket socket, Func<DnsMessage, bool> isIt)
    {
        byte[] buffer = new byte[DnsMessage.LongestBytes];
        while (true)
        {
            (int length, _) = await socket.ReceiveAsync(buffer, Cancellation);
            if (DnsMessage.TryRead(buffer.AsSpan(0, length), out DnsMessage? message) && isIt(message))
            {
                return message;
            }
        }
    }

    [Fact]
    public async Task ANameIsAnnouncedAnsweredAndGivenBack()
    {
        string name = $"bench-{Guid.NewGuid():N}";
        DnsName host = DnsName.Of(name, "local");
        using GroupSocket peer = Group();
        await using (Board board = new(name, "127.0.0.5"))
        {
            Assert.Equal(name + ".local", await board.NameAsync());
            DnsMessage announced = await HeardAsync(peer, message => message.IsResponse && message.Answers.Any(record => record.Name.Equals(host)));
            Assert.Contains(announced.Answers, record => record.Type == DnsRecord.TypeA && new IPAddress(record.Data).ToString() == "127.0.0.5");

            // An ordinary asker, from a port of its own.
            using Socket asker = new(AddressFamily.InterNetwork, SocketType.Dgram, ProtocolType.Udp);
            asker.Bind(new IPEndPoint(IPAddress.Loopback, 0));
            asker.SetSocketOption(SocketOptionLevel.IP, SocketOptionName.MulticastInterface, IPAddress.HostToNetworkOrder(Loopback));
            await asker.SendToAsync(new DnsMessage { Id = 77, Questions = [new(host, DnsRecord.TypeA, false)] }.ToBytes(), peer.Group, Cancellation);
            byte[] buffer = new byte[DnsMessage.LongestBytes];
            int length = await asker.ReceiveAsync(buffer, Cancellation);
            Assert.True(DnsMessage.TryRead(buffer.AsSpan(0, length), out DnsMessage? answer));
            Assert.Equal(77, answer.Id);
            Assert.Equal("127.0.0.5", new IPAddress(Assert.Single(answer.Answers).Data).ToString());
        }

        await HeardAsync(peer, message => message.IsResponse && message.Answers.Any(record => record.Name.Equals(host) && record.TtlSeconds == 0));
    }

    [Fact]
    public async Task TheSecondOfTwoBoardsWithOneNameTakesAnotherAndSaysSo()
    {
        string name = $"bench-{Guid.NewGuid():N}";
        using GroupSocket peer = Group();
        await using Board first = new(name, "127.0.0.5");
        Assert.Equal(name + ".local", await first.NameAsync());
        await using Board second = new(name, "127.0.0.6");
        Assert.Equal(name + "-2.local", await second.NameAsync());
        Sentence? told;
        do
        {
            told = await second.Troubles.Reader.ReadAsync(Cancellation);
        }
        while (told is null);

        Assert.Contains(name + "-2.local", told.English, StringComparison.Ordinal);
    }

    [Fact]
    public async Task AProgramThatDoesNotShareThePortIsToldOf()
    {
        using Socket other = new(AddressFamily.InterNetwork, SocketType.Dgram, ProtocolType.Udp) { ExclusiveAddressUse = true };
        try
        {
            other.Bind(new IPEndPoint(IPAddress.Any, NameResponder.Port));
        }
        catch (SocketException)
        {
            Assert.Skip("A name service runs here and shares the port.");
        }

        await using Board board = new("bench", "127.0.0.5");
        Assert.Contains("another program holds UDP port 5353", (await board.Troubles.Reader.ReadAsync(Cancellation))!.English, StringComparison.Ordinal);
    }
}
