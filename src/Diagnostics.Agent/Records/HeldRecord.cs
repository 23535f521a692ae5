using System.Globalization;
using System.Security.Cryptography;
using Diagnostics.Core.AsBuilt;

namespace Diagnostics.Agent.Records;

/// <summary>The as-built record that holds.</summary>
/// <param name="Number">Of its version; 0 = as the service was given it.</param>
/// <param name="Record">Null where there is none.</param>
/// <param name="Text">As it stands in its file, UTF-8; null where there is none.</param>
internal sealed record HeldRecord(int Number, AsBuiltRecord? Record, byte[]? Text)
{
    /// <summary>Goes out with a form and comes back with it, to tell whether somebody saved meanwhile.</summary>
    public string Token { get; } = string.Create(CultureInfo.InvariantCulture, $"{Number}-{(DigestOf(Text) ?? "none")[..4]}");

    /// <summary>What its author may not have meant, as members that aren't known: they are in the text and not in the record.</summary>
    public IReadOnlyList<AsBuiltRemark> Remarks { get; } = Text is not null && AsBuiltReader.TryRead(Text, out _, out _, out IReadOnlyList<AsBuiltRemark> remarks) ? remarks : [];

    public static string? DigestOf(byte[]? text) => text is null ? null : Convert.ToHexStringLower(SHA256.HashData(text));
}
