using System.Net;

namespace Diagnostics.Agent.Announcing;

/// <summary>What is announced on one interface: the name of the board with its addresses there, and the page as a service (RFC 6763).</summary>
internal sealed class AnnouncedService
{
    private const string Top = "local";

    /// <param name="label">Name of the board, one label.</param>
    /// <param name="port">Of the page.</param>
    /// <param name="isEncrypted">It is served over TLS.</param>
    /// <param name="addresses">Where it is served.</param>
    public AnnouncedService(string label, int port, bool isEncrypted, IReadOnlyList<IPAddress> addresses)
    {
        DnsName type = DnsName.Of(isEncrypted ? "_https" : "_http", "_tcp", Top);
        Host = DnsName.Of(label, Top);
        Instance = DnsName.Of(label, isEncrypted ? "_https" : "_http", "_tcp", Top);
        Records =
        [
            .. addresses.Select(address => DnsRecord.Address(Host, address)),
            DnsRecord.Service(Instance, port, Host),
            DnsRecord.Text(Instance, "path=/"),
            DnsRecord.Pointer(type, Instance),

            // RFC 6763, 9: whoever asks which types of service there are.
            DnsRecord.Pointer(DnsName.Of("_services", "_dns-sd", "_udp", Top), type),
        ];
        Nsecs = [.. new[] { Host, Instance }.Select(name => DnsRecord.Nsec(name, Records.Where(record => record.Name.Equals(name)).Select(record => record.Type)))];
    }

    public DnsName Host { get; }

    public DnsName Instance { get; }

    public IReadOnlyList<DnsRecord> Records { get; }

    /// <summary>Of both names, which types they have.</summary>
    public IReadOnlyList<DnsRecord> Nsecs { get; }

    public bool IsOwnName(DnsName name) => name.Equals(Host) || name.Equals(Instance);

    /// <summary>What whoever gets these answers will ask for next (RFC 6763, 12).</summary>
    public IEnumerable<DnsRecord> Following(IReadOnlyCollection<DnsRecord> answers)
    {
        bool withService = answers.Any(answer => answer.Type == DnsRecord.TypePointer && answer.Data.AsSpan().SequenceEqual(Instance.Wire));
        bool withAddresses = withService || answers.Any(answer => answer.Type is DnsRecord.TypeService or DnsRecord.TypeA or DnsRecord.TypeAaaa);
        return Records.Except(answers).Where(record => (withService && record.Name.Equals(Instance)) || (withAddresses && record.Name.Equals(Host)));
    }
}
