namespace Diagnostics.Agent.Announcing;

/// <summary>One question of class IN or any.</summary>
/// <param name="Name">Of what.</param>
/// <param name="Type">As in <see cref="DnsRecord"/>.</param>
/// <param name="WantsUnicast">The answer may come to the asker alone (RFC 6762, 5.4).</param>
internal sealed record DnsQuestion(DnsName Name, int Type, bool WantsUnicast);
