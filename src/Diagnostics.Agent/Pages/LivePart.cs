using System.Text.Json;
using Diagnostics.Agent.Access;
using Diagnostics.Can;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Hosting;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages;

/// <summary>
/// Keeps open pages current: a stream of server-sent events (WHATWG HTML, 9.2) carries each piece of a page that isn't what the browser has. All readers of a
/// page share one drawing of it a tick; who reads slowly misses what came between, and nothing waits for anybody.
/// </summary>
internal sealed class LivePart(PageSource source, IReadOnlyList<PageAt> pages) : IPagePart
{
    public const string Path = "/live";

    /// <summary>The address of the page that is to be kept current.</summary>
    private const string OfField = "of";

    /// <summary>Digests of the pieces that the browser has, in order, with commas between.</summary>
    private const string HaveField = "have";

    private static readonly TimeSpan Tick = TimeSpan.FromSeconds(1);

    /// <summary>A reader that hears nothing for long takes the page for stale.</summary>
    private const int TicksBetweenSigns = 5;

    private readonly Lock _drawing = new();
    private readonly Dictionary<string, (long Tick, LivePage Page)> _drawn = new(StringComparer.Ordinal);

    public void Map(IEndpointRouteBuilder routes)
    {
        if (source.State.ReadFrom is null)
        {
            routes.MapRead(Path, StreamAsync);
        }
    }

    private async Task StreamAsync(HttpContext context)
    {
        string path = context.Request.Query[OfField].ToString();
        if (PageNow(path, isFresh: true) is null)
        {
            await PageAnswers.NothingHere(context).ConfigureAwait(false);
            return;
        }

        if (!source.Streams.TryTake(context, out IDisposable? place))
        {
            await StreamPlaces.RefuseAsync(context).ConfigureAwait(false);
            return;
        }

        using (place)
        {
            await SendUntilOverAsync(context, path).ConfigureAwait(false);
        }
    }

    private async Task SendUntilOverAsync(HttpContext context, string path)
    {
        try
        {
            CancellationToken ending = context.RequestServices.GetRequiredService<IHostApplicationLifetime>().ApplicationStopping;
            using CancellationTokenSource over = CancellationTokenSource.CreateLinkedTokenSource(context.RequestAborted, ending);
            await SendNewsAsync(context, path, over.Token).ConfigureAwait(false);
        }
        catch (Exception gone) when (gone is OperationCanceledException or IOException)
        {
            // The reader left or is signed out, or the service ends.
        }
    }

    private async Task SendNewsAsync(HttpContext context, string path, CancellationToken over)
    {
        context.Response.ContentType = "text/event-stream; charset=utf-8";
        string[] have = context.Request.Query[HaveField].ToString().Split(',', Limits.PiecesOfPage);
        using PeriodicTimer timer = new(Tick, source.Clock);
        int quiet = TicksBetweenSigns;
        do
        {
            bool told = false;
            if (PageNow(path) is not { } page || page.Pieces.Count != have.Length)
            {
                // Other pieces than before: the browser fetches the page anew and asks again.
                await WriteAsync(context, "event: anew\ndata: \n\n"u8.ToArray(), over).ConfigureAwait(false);
                return;
            }

            for (int index = 0; index < have.Length; index++)
            {
                DrawnPiece piece = page.Pieces[index].In(context.Language());
                if (piece.Digest != have[index])
                {
                    have[index] = piece.Digest;
                    await WriteAsync(context, [.. "event: piece\ndata: "u8, .. Json(piece), .. "\n\n"u8], over).ConfigureAwait(false);
                    told = true;
                }
            }

            quiet = told ? 0 : quiet + 1;
            if (quiet >= TicksBetweenSigns)
            {
                quiet = 0;
                await WriteAsync(context, "event: here\ndata: \n\n"u8.ToArray(), over).ConfigureAwait(false);
            }
        }
        while (await timer.WaitForNextTickAsync(over).ConfigureAwait(false));
    }

    private static async Task WriteAsync(HttpContext context, byte[] message, CancellationToken over)
    {
        await context.Response.Body.WriteAsync(message, over).ConfigureAwait(false);
        await context.Response.Body.FlushAsync(over).ConfigureAwait(false);
    }

    private static byte[] Json(DrawnPiece piece)
    {
        using MemoryStream bytes = new();
        using (Utf8JsonWriter writer = new(bytes))
        {
            writer.WriteStartObject();
            writer.WriteString("id"u8, piece.Id);
            writer.WriteString("digest"u8, piece.Digest);
            writer.WriteString("html"u8, piece.Html);
            writer.WriteEndObject();
        }

        return bytes.ToArray();
    }

    /// <summary>The page as it was drawn in this tick, for whoever asked first. Who just loaded the page may have a later one already, and must not be given an older.</summary>
    private LivePage? PageNow(string path, bool isFresh = false)
    {
        long tick = Instant.FromDateTime(source.Clock.GetUtcNow()).Nanoseconds / (Tick.Ticks * 100);
        lock (_drawing)
        {
            if (!isFresh && _drawn.TryGetValue(path, out (long Tick, LivePage Page) known) && known.Tick == tick)
            {
                return known.Page;
            }

            LivePage? page = pages.Select(at => at(path, source.Model())).FirstOrDefault(made => made is not null);
            if (_drawn.Count >= 2 * Limits.StreamReaders)
            {
                _drawn.Clear();
            }

            if (page is not null)
            {
                _drawn[path] = (tick, page);
            }

            return page;
        }
    }
}
