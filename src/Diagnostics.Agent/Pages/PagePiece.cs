using System.Security.Cryptography;
using System.Text;

namespace Diagnostics.Agent.Pages;

/// <param name="Id">Names it on its page.</param>
/// <param name="Html">Markup by <see cref="HtmlWriter"/>.</param>
internal sealed record PagePiece(string Id, string Html)
{
    private string? _digest;

    /// <summary>Tells whether a browser has this version of it.</summary>
    public string Digest => _digest ??= Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(Html)).AsSpan(0, 6));

    public static PagePiece Of(string id, Action<HtmlWriter> write)
    {
        HtmlWriter page = new();
        write(page);
        return new(id, page.ToString());
    }
}
