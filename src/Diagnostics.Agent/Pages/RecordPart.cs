using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;

namespace Diagnostics.Agent.Pages;

/// <summary>The hand-over record: to be looked at and printed, and as one file to be kept.</summary>
internal sealed class RecordPart(PageSource source) : IPagePart
{
    public void Map(IEndpointRouteBuilder routes)
    {
        routes.MapRead(RecordPage.Path, context => PageAnswers.HtmlAsync(context, RecordPage.Served(source.Model(context))));
        routes.MapRead(RecordPage.FilePath, FileAsync);
    }

    private Task FileAsync(HttpContext context)
    {
        context.Response.Headers.ContentDisposition = "attachment; filename=\"hand-over-record.html\"";
        return PageAnswers.HtmlAsync(context, RecordPage.SelfContained(source.Model(context)));
    }
}
