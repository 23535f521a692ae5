using Diagnostics.Agent.Soaks;
using Diagnostics.Core.Soak;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;
using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.Pages;

/// <summary>Soak tests: begun and ended from the page, their records, and the latest as data.</summary>
internal sealed class SoakTestPart(PageSource source) : IPagePart
{
    public void Map(IEndpointRouteBuilder routes)
    {
        routes.MapRead(SoakPages.DocumentPath, DocumentAsync);
        routes.MapRead(SoakPages.RecordFolder + "{id}", RecordAsync);
        if (source.State.ReadFrom is null)
        {
            routes.MapAction(SoakPages.StartPath, "/#soak", Start);
            routes.MapAction(SoakPages.StopPath, "/#soak", _ => source.State.TryStopSoak(out Sentence? why) ? null : why);
        }
    }

    private Task DocumentAsync(HttpContext context)
    {
        if (source.State.Soaks is not [.., { } latest])
        {
            return PageAnswers.NothingHere(context);
        }

        return PageAnswers.JsonAsync(context, System.Text.Json.JsonSerializer.SerializeToUtf8Bytes(new(latest, SoakVerdict.Of(latest)), SoakJson.Default.SoakDocument));
    }

    private Task RecordAsync(HttpContext context)
    {
        string id = context.Request.RouteValues["id"] as string ?? string.Empty;
        if (source.State.Soaks.FirstOrDefault(known => known.Id == id) is not { } soak)
        {
            return PageAnswers.NothingHere(context);
        }

        return PageAnswers.HtmlAsync(context, SoakPages.Served(SoakSheet.Of(soak, source.Zone, source.State.Built?.Site), context.Language()));
    }

    private Sentence? Start(IFormCollection form)
    {
        SoakRequest wish = SoakRequest.Read(
            form[SoakPages.NameField].ToString(),
            form[SoakPages.SpanField].ToString(),
            form[SoakPages.FailsField].ToString(),
            form[SoakPages.ErrorRatioField].ToString(),
            form[SoakPages.RestartsField].ToString());
        return source.State.TryStartSoak(wish, out Sentence? why) ? null : why;
    }
}
