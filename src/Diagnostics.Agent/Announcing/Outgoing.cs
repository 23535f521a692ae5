using System.Net;

namespace Diagnostics.Agent.Announcing;

/// <summary>A message to be sent.</summary>
/// <param name="Message">Its bytes.</param>
/// <param name="To">One asker; null = everybody on the link.</param>
internal readonly record struct Outgoing(byte[] Message, IPEndPoint? To);
