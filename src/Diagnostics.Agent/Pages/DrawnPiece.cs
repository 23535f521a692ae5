using System.Security.Cryptography;
using System.Text;

namespace Diagnostics.Agent.Pages;

/// <param name="Id">Names it on its page.</param>
/// <param name="Html">Markup by <see cref="HtmlWriter"/>.</param>
internal sealed record DrawnPiece(string Id, string Html)
{
    private string? _digest;

    /// <summary>Tells whether a browser has this version of it.</summary>
    public string Digest => _digest ??= Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(Html)).AsSpan(0, 6));
}
