using Diagnostics.Agent.Bundles;
using Diagnostics.Agent.History;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages;

/// <summary>Gives a bundle, as it is made.</summary>
internal sealed class BundlePart(LiveBundles bundles) : IPagePart
{
    public void Map(IEndpointRouteBuilder routes) => routes.MapPost(HandOn.Path, GiveAsync);

    private async Task GiveAsync(HttpContext context)
    {
        if (await PageAnswers.FormAsync(context).ConfigureAwait(false) is not { } form)
        {
            return;
        }

        if (form[HandOn.LogField].ToString() is { Length: > 0 } meant && meant != bundles.Directory)
        {
            await PageAnswers.RefuseAsync(context, StatusCodes.Status409Conflict, Say($"The service here keeps its log in another directory.")).ConfigureAwait(false);
            return;
        }

        // A value that is misspelt must not hand out what was to be left out.
        if (form[HandOn.InputsField].ToString() is { Length: > 0 } inputs && inputs is not (HandOn.Leave or HandOn.Keep))
        {
            await PageAnswers.RefuseAsync(context, StatusCodes.Status400BadRequest, Say($"The field '{HandOn.InputsField}' is '{HandOn.Leave}' or '{HandOn.Keep}'.")).ConfigureAwait(false);
            return;
        }

        CancellationToken aborted = context.RequestAborted;
        LiveBundle? bundle;
        try
        {
            bundle = await bundles.TryBeginAsync(form[HandOn.InputsField] == HandOn.Leave, aborted).ConfigureAwait(false);
        }
        catch (HistoryException problem)
        {
            await PageAnswers.RefuseAsync(context, StatusCodes.Status503ServiceUnavailable, problem.Said).ConfigureAwait(false);
            return;
        }

        if (bundle is null)
        {
            await PageAnswers.RefuseAsync(context, StatusCodes.Status503ServiceUnavailable, Say($"Another bundle is being made; try again when it is done.")).ConfigureAwait(false);
            return;
        }

        using (bundle)
        {
            context.Response.ContentType = "application/zip";
            context.Response.Headers.ContentDisposition = $"attachment; filename=\"{bundle.FileName}\"";
            try
            {
                await bundle.WriteAsync(context.Response.Body, aborted).ConfigureAwait(false);
            }
            catch (Exception problem) when (problem is IOException or OperationCanceledException)
            {
                // A half bundle must not look like a whole one.
                context.Abort();
            }
        }
    }
}
