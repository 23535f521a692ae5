using System.Text;
using Diagnostics.Agent.Chronicles;
using Diagnostics.Agent.History;
using Diagnostics.Agent.Languages;
using Diagnostics.Can;
using Diagnostics.Core.Wording;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;
using Microsoft.Extensions.Primitives;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages.Timeline;

/// <summary>
/// The time axis. A stretch that somebody asked for is kept drawn for a while: several people look at the same trouble, and a year doesn't change while a tenth of
/// a column goes by. It is drawn anew at once when anything but traffic is written to the log.
/// </summary>
internal sealed class TimePart(PageSource source) : IPagePart
{
    /// <summary>Only what changes with the stretch, for the script.</summary>
    public const string PartPath = TimeQuery.Path + "/stretch";

    /// <summary>A wide screen has room for so many, a phone for half of them.</summary>
    public const int Columns = 600;

    /// <summary>Nobody waits longer for news of what goes on.</summary>
    private static readonly TimeSpan LongestKept = TimeSpan.FromSeconds(60);

    private readonly Lock _keeping = new();
    private readonly LinkedList<Drawn> _kept = [];

    public void Map(IEndpointRouteBuilder routes)
    {
        routes.MapRead(TimeQuery.Path, context => AnswerAsync(context, isWhole: true));
        routes.MapRead(PartPath, context => AnswerAsync(context, isWhole: false));
    }

    private async Task AnswerAsync(HttpContext context, bool isWhole)
    {
        Instant now = Now();
        if (TimeQuery.Read(Field, now, source.Zone, out Sentence wrong) is not { } query)
        {
            context.Response.StatusCode = StatusCodes.Status400BadRequest;
            await PageAnswers.HtmlAsync(context, TimePage.Refused(wrong, context.Language())).ConfigureAwait(false);
            return;
        }

        string address = context.Language().Code + (isWhole ? "w" : "p") + query.Address + query.Remark.Template;
        long version = source.Log?.Version ?? 0;
        if (Find(address, version, now) is not { } content)
        {
            (content, TimeSpan step, bool isWholeAnswer) = await DrawAsync(query, now, isWhole, context.Language(), context.RequestAborted).ConfigureAwait(false);
            if (isWholeAnswer)
            {
                Keep(new(address, version, now, step, content));
            }
        }

        await PageAnswers.SendAsync(context, "text/html; charset=utf-8", content).ConfigureAwait(false);

        string? Field(string name) => context.Request.Query.TryGetValue(name, out StringValues values) ? values.ToString() : null;
    }

    private async Task<(byte[] Content, TimeSpan Step, bool IsWhole)> DrawAsync(TimeQuery query, Instant now, bool isWhole, Language language, CancellationToken cancellation)
    {
        PageModel model = source.Model() with { Language = language };
        List<Sentence> remarks = [];
        Stretch? stretch = null;
        if (source.Log is { } log)
        {
            try
            {
                stretch = await log.ReadAsync(query.From, query.To, Columns, cancellation).ConfigureAwait(false);
            }
            catch (HistoryException problem)
            {
                remarks.Add(Say($"The log can’t be asked now. {problem.Said} What stands here is from memory: minute by minute, and a week at most."));
            }
        }
        else
        {
            remarks.Add(Say($"No log is kept, so this is from memory: minute by minute, a week at most, and gone with the next start. Start the tool with --log DIR to keep it."));
        }

        stretch ??= new Chronicle(new MemorySource(source.State)).Of(query.From, query.To, Columns);
        string html = isWhole ? TimePage.Whole(query, stretch, model, now, remarks) : TimePage.Part(query, stretch, model, now, remarks);
        return (Encoding.UTF8.GetBytes(html), stretch.Step, remarks.Count == 0);
    }

    /// <summary>The last moment that is known.</summary>
    private Instant Now()
    {
        Instant? reported = source.State.Report?.Source.End;

        // The report of a log that is only read may be some minutes older than its end.
        Instant? row = source.State.ReadFrom is not null && source.State.Rows is [.., { } last] ? last.End : null;
        return reported is { } a && row is { } b ? Instant.Max(a, b) : reported ?? row ?? Instant.FromDateTime(source.Clock.GetUtcNow());
    }

    private byte[]? Find(string address, long version, Instant now)
    {
        lock (_keeping)
        {
            for (LinkedListNode<Drawn>? node = _kept.First; node is not null; node = node.Next)
            {
                if (node.Value.Address == address && node.Value.Version == version && now.SecondsSince(node.Value.Time) is >= 0 and var age && age <= Math.Min(LongestKept.TotalSeconds, node.Value.Step.TotalSeconds / 10))
                {
                    return node.Value.Content;
                }
            }

            return null;
        }
    }

    private void Keep(Drawn drawn)
    {
        lock (_keeping)
        {
            for (LinkedListNode<Drawn>? node = _kept.First; node is not null; node = node.Next)
            {
                if (node.Value.Address == drawn.Address)
                {
                    _kept.Remove(node);
                    break;
                }
            }

            _kept.AddFirst(drawn);
            if (_kept.Count > Limits.StretchesKept)
            {
                _kept.RemoveLast();
            }
        }
    }

    private sealed record Drawn(string Address, long Version, Instant Time, TimeSpan Step, byte[] Content);
}
