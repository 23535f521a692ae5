using Diagnostics.Core;

namespace Diagnostics.Agent.Commands;

/// <summary>A file of settings as text. A place is looked for from its beginning, so only where one is told: of each member of a file of megabytes, that took minutes.</summary>
/// <param name="Utf8">What stands in it, without a byte order mark.</param>
/// <param name="Path">How messages name it.</param>
internal sealed record ConfigurationText(ReadOnlyMemory<byte> Utf8, string Path)
{
    public string PlaceOf(long offset) => $"{Path}, {TextPlace.Of(Utf8.Span, offset)}";
}
