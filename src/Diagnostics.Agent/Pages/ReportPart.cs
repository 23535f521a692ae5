using Diagnostics.Agent.Access;
using Diagnostics.Agent.Captures;
using Diagnostics.Core.Reporting;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;
using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.Pages;

/// <summary>The report itself, as a page and as data, what the page brings along, kept frames, and marks.</summary>
internal sealed class ReportPart(PageSource source) : IPagePart
{
    public const string AcknowledgePath = "/acknowledge";
    public const string KeyField = "finding";

    public void Map(IEndpointRouteBuilder routes)
    {
        routes.MapRead("/", context => PageAnswers.HtmlAsync(context, PageRenderer.Served(source.Model(context) with { IsSignedIn = context.Features.Get<Session>() is not null })));
        routes.MapRead("/report.json", context => PageAnswers.JsonAsync(context, ReportJson.ToUtf8(source.Model().Report)));
        routes.MapRead(PageAssets.Folder + "{name}", AssetAsync);
        routes.MapRead(Marks.CaptureFolder + "{file}", CaptureAsync);
        if (source.State.ReadFrom is null)
        {
            routes.MapAction(Marks.Path, "/#marks", SetMark);
            routes.MapAction(AcknowledgePath, "/#findings", Acknowledge);
        }
    }

    private static Task AssetAsync(HttpContext context)
    {
        if (PageAssets.Find(context.Request.Path.Value!) is not { } asset)
        {
            return PageAnswers.NothingHere(context);
        }

        context.Response.Headers.CacheControl = "public, max-age=31536000, immutable";
        return PageAnswers.SendAsync(context, asset.Type, asset.Content);
    }

    private Task CaptureAsync(HttpContext context)
    {
        if (source.Captures?.PathOf(context.Request.RouteValues["file"] as string ?? string.Empty) is not { } file)
        {
            return PageAnswers.NothingHere(context);
        }

        context.Response.Headers.ContentDisposition = "attachment";
        context.Response.ContentType = "application/octet-stream";
        return context.Response.SendFileAsync(file, context.RequestAborted);
    }

    private Sentence? SetMark(IFormCollection form) => source.State.TryMark(NoteOf(form), out Sentence? why) ? null : why;

    private Sentence? Acknowledge(IFormCollection form) => source.State.TryAcknowledge(form[KeyField].ToString(), NoteOf(form), out Sentence? why) ? null : why;

    /// <summary>Cut before it is cleaned: the cut may go through a character.</summary>
    private static string NoteOf(IFormCollection form)
    {
        string text = form[Marks.NoteField].ToString().Trim();
        return HtmlWriter.Clean(text.Length > Limits.NoteLength ? text[..Limits.NoteLength] : text);
    }
}
