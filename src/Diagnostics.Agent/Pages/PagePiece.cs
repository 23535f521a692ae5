using System.Collections.Concurrent;
using Diagnostics.Agent.Languages;

namespace Diagnostics.Agent.Pages;

/// <summary>A piece of a page. It is drawn once for each language that somebody reads it in.</summary>
/// <param name="id">Names it on its page.</param>
/// <param name="write">Writes it; what it shows doesn't change any more.</param>
internal sealed class PagePiece(string id, Action<HtmlWriter> write)
{
    private readonly ConcurrentDictionary<Language, DrawnPiece> _drawn = [];

    public string Id => id;

    public static PagePiece Of(string id, Action<HtmlWriter> write) => new(id, write);

    public DrawnPiece In(Language language) => _drawn.GetOrAdd(language, static (language, piece) => piece.Draw(language), this);

    private DrawnPiece Draw(Language language)
    {
        HtmlWriter page = new(language);
        write(page);
        return new(id, page.ToString());
    }
}
