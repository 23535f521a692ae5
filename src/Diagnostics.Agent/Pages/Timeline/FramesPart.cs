using System.Globalization;
using Diagnostics.Agent.Captures;
using Diagnostics.Can;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;

namespace Diagnostics.Agent.Pages.Timeline;

/// <summary>A moment opens the frames around it, decoded, where they were kept.</summary>
internal sealed class FramesPart(PageSource source) : IPagePart
{
    public const string Path = "/frames";
    private const string AtField = "at";
    private const string FromField = "from";

    /// <summary>A finding's frames may begin so long before it.</summary>
    private static readonly TimeSpan Reach = TimeSpan.FromMinutes(10);

    /// <summary>The frames nearest to a moment.</summary>
    public static string AddressOf(Instant time) => $"{Path}?{AtField}={time.ToString()}";

    /// <summary>The frames of a file around a moment.</summary>
    public static string AddressOf(string file, Instant time) => $"{Path}/{file}?{AtField}={time.ToString()}";

    /// <summary>The frames of a file from a place on.</summary>
    public static string AddressOf(string file, long from) => string.Create(CultureInfo.InvariantCulture, $"{Path}/{file}?{FromField}={Math.Max(0, from)}");

    public void Map(IEndpointRouteBuilder routes)
    {
        routes.MapRead(Path, NearestAsync);
        routes.MapRead(Path + "/{file}", FileAsync);
    }

    private Capture[] Kept() => [.. source.State.Captures.Where(capture => capture.File is not null)];

    private Task NearestAsync(HttpContext context)
    {
        if (TimeQuery.Moment(Short(context.Request.Query[AtField].ToString())) is not { } at)
        {
            context.Response.StatusCode = StatusCodes.Status400BadRequest;
            return PageAnswers.HtmlAsync(context, FramesPage.NoMoment(context.Language()));
        }

        Capture[] kept = Kept();
        Capture? nearest = kept
            .Where(capture => at >= capture.Time - Reach && at <= capture.Time + CapturePlan.After)
            .MinBy(capture => Math.Abs(capture.Time.SecondsSince(at)));
        if (nearest is { File: { } file })
        {
            PageAnswers.SeeOther(context.Response, AddressOf(file, at));
            context.Response.ContentType = "text/plain; charset=utf-8";
            return Task.CompletedTask;
        }

        return PageAnswers.HtmlAsync(context, FramesPage.NotKept(at, kept.LastOrDefault(capture => capture.Time < at), kept.FirstOrDefault(capture => capture.Time > at), source.Model(context)));
    }

    private Task FileAsync(HttpContext context)
    {
        string name = context.Request.RouteValues["file"] as string ?? string.Empty;
        if (source.Captures?.PathOf(name) is not { } path)
        {
            context.Response.StatusCode = StatusCodes.Status404NotFound;
            return PageAnswers.HtmlAsync(context, FramesPage.NotThere(context.Language()));
        }

        string from = context.Request.Query[FromField].ToString();
        long first = 0;
        Instant? at = TimeQuery.Moment(Short(context.Request.Query[AtField].ToString()));
        if ((from.Length > 0 && !long.TryParse(from, NumberStyles.None, CultureInfo.InvariantCulture, out first)) || (at is null && context.Request.Query.ContainsKey(AtField)))
        {
            context.Response.StatusCode = StatusCodes.Status400BadRequest;
            return PageAnswers.HtmlAsync(context, FramesPage.NoMoment(context.Language()));
        }

        Capture? capture = source.State.Captures.LastOrDefault(known => known.File == name);
        TimeSpan correction = capture?.WallMinusLine ?? TimeSpan.Zero;

        // So that the place behind the last can still be reckoned with.
        first = Math.Min(first, int.MaxValue);
        if (FrameWindow.Read(path, source.State.Report, source.State.Built, at - correction, first) is not { } window)
        {
            context.Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
            return PageAnswers.HtmlAsync(context, FramesPage.Unreadable(context.Language()));
        }

        return PageAnswers.HtmlAsync(context, FramesPage.Of(window, name, at, capture, correction, source.Model(context)));
    }

    /// <summary>An address of ours has nine decimals where a stamp has; they are finer than a frame is long.</summary>
    private static string Short(string moment) =>
        moment.IndexOf('.', StringComparison.Ordinal) is > 0 and int point && moment.EndsWith('Z') && moment.Length - point > 9 ? moment[..(point + 8)] + "Z" : moment;
}
