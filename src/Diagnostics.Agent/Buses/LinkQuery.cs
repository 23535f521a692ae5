using System.Net.Sockets;
using System.Runtime.InteropServices;

namespace Diagnostics.Agent.Buses;

/// <summary>
/// Asks the kernel about its network interfaces and hears of changes. Reading needs no privilege. Owned by one thread.
/// The questions go out by the runtime's own <see cref="Socket"/>, which here is always of the kernel's route family: that is no way to a bus.
/// </summary>
public sealed unsafe class LinkQuery : IDisposable
{
    /// <summary>RTMGRP_LINK: interfaces appear, change, disappear.</summary>
    private const uint GroupLink = 1;

    private const int AddressSize = 12;

    /// <summary>The kernel fills at most 32 KiB in a dump's datagram (NETLINK_DUMP buffers, linux/netlink.h).</summary>
    private const int DatagramCapacity = 64 * 1024;

    /// <summary>Interfaces asked for in one go, as a limit for a runaway answer.</summary>
    private const int MaxDatagrams = 256;

    private readonly Socket _questions;
    private readonly Socket _changes;
    private readonly byte[] _buffer = new byte[DatagramCapacity];
    private uint _sequence;

    /// <summary>Throws <see cref="SystemCallException"/> where the kernel or a sandbox refuses.</summary>
    public LinkQuery()
    {
        _questions = Open(0, groups: 0);
        _questions.ReceiveTimeout = 1000;
        try
        {
            _changes = Open(LinuxCalls.TypeNonBlocking, GroupLink);
            _changes.Blocking = false;
        }
        catch
        {
            _questions.Dispose();
            throw;
        }
    }

    /// <summary>To poll: readable when something has changed.</summary>
    internal int ChangeDescriptor => (int)_changes.SafeHandle.DangerousGetHandle();

    /// <summary>All interfaces of the board; empty when the kernel gave no answer.</summary>
    public IReadOnlyList<LinkFacts> All()
    {
        List<LinkFacts> links = [];
        Ask(null, links);
        return links;
    }

    /// <summary>One interface by its name, null when there is none of that name.</summary>
    public LinkFacts? Find(string name)
    {
        // Longer names can't exist: IFNAMSIZ is 16 with its end mark (linux/if.h).
        if (name.Length is 0 or > 15)
        {
            return null;
        }

        List<LinkFacts> links = [];
        Ask(name, links);
        return links.Find(link => link.Name == name);
    }

    /// <summary>Takes the changes that have been told since; false when some were lost, so that everything must be asked again.</summary>
    internal bool TakeChanges(ICollection<LinkFacts> changed)
    {
        bool complete = true;
        for (int i = 0; i < MaxDatagrams; i++)
        {
            int received = _changes.Receive(_buffer, SocketFlags.None, out SocketError error);
            if (error != SocketError.Success)
            {
                // More changes than the socket holds (ENOBUFS), or no more for now.
                return complete && error == SocketError.WouldBlock;
            }

            complete &= LinkMessage.Read(_buffer.AsSpan(0, received), changed).Damaged == 0;
        }

        return false;
    }

    public void Dispose()
    {
        _questions.Dispose();
        _changes?.Dispose();
    }

    private static Socket Open(int extraType, uint groups)
    {
        int descriptor = LinuxCalls.socket(
            LinuxCalls.FamilyNetlink, LinuxCalls.TypeRaw | LinuxCalls.TypeCloseOnExec | extraType, LinuxCalls.ProtocolRoute);
        if (descriptor < 0)
        {
            throw new SystemCallException("socket(AF_NETLINK)", "interfaces", Marshal.GetLastPInvokeError());
        }

        SafeSocketHandle handle = new(descriptor, ownsHandle: true);

        // struct sockaddr_nl: family 0 (u16), port 4 (u32, 0 = the kernel chooses), groups 8 (u32).
        byte* address = stackalloc byte[AddressSize];
        new Span<byte>(address, AddressSize).Clear();
        *(ushort*)address = LinuxCalls.FamilyNetlink;
        *(uint*)(address + 8) = groups;
        if (LinuxCalls.bind(descriptor, address, AddressSize) != 0)
        {
            int error = Marshal.GetLastPInvokeError();
            handle.Dispose();
            throw new SystemCallException("bind(AF_NETLINK)", "interfaces", error);
        }

        return new(handle);
    }

    private void Ask(string? name, List<LinkFacts> links)
    {
        Span<byte> request = stackalloc byte[LinkMessage.RequestCapacity];
        int length = LinkMessage.WriteRequest(request, ++_sequence, name);
        _questions.Send(request[..length], SocketFlags.None, out SocketError sent);
        for (int i = 0; sent == SocketError.Success && i < MaxDatagrams; i++)
        {
            int received = _questions.Receive(_buffer, SocketFlags.None, out SocketError error);
            if (error != SocketError.Success)
            {
                return;
            }

            // An answer to an earlier question that came too late has another sequence number.
            if (received < 12 || MemoryMarshal.Read<uint>(_buffer.AsSpan(8)) != _sequence)
            {
                continue;
            }

            LinkAnswer answer = LinkMessage.Read(_buffer.AsSpan(0, received), links);
            if (answer.IsDone || name is not null)
            {
                return;
            }
        }
    }
}
