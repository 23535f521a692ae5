using System.Text;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Http.Features;
using Microsoft.AspNetCore.Routing;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages;

/// <summary>How a part of the page is asked and answers.</summary>
internal static class PageAnswers
{
    private static readonly string[] Reading = [HttpMethods.Get, HttpMethods.Head];

    /// <summary>Maps an address that is read; whoever asks for its head only gets that.</summary>
    public static void MapRead(this IEndpointRouteBuilder routes, string pattern, RequestDelegate answer) => routes.MapMethods(pattern, Reading, answer);

    /// <summary>
    /// Maps an address that takes a form and does something. A person who filled it in gets a page with a way back where it isn't taken, a command the sentence alone.
    /// </summary>
    /// <param name="routes">Where to.</param>
    /// <param name="path">The address.</param>
    /// <param name="back">Where the browser goes when it is done.</param>
    /// <param name="act">Does it, or says in a sentence why not now. Throws <see cref="SettingException"/> where the form is wrong.</param>
    /// <param name="notNow">Status where it isn't done now.</param>
    public static void MapAction(this IEndpointRouteBuilder routes, string path, string back, Func<IFormCollection, Sentence?> act, int notNow = StatusCodes.Status503ServiceUnavailable) => routes.MapPost(path, async context =>
    {
        if (await FormAsync(context).ConfigureAwait(false) is not { } form)
        {
            return;
        }

        Sentence? why;
        try
        {
            why = act(form);
        }
        catch (SettingException wrong)
        {
            await RefuseAsync(context, StatusCodes.Status400BadRequest, wrong.Said).ConfigureAwait(false);
            return;
        }

        if (why is not null)
        {
            await RefuseAsync(context, notNow, why).ConfigureAwait(false);
            return;
        }

        SeeOther(context.Response, back);
    });

    /// <summary>The address is of a kind that there is, and names nothing that is there; the words for it are the same for all.</summary>
    public static Task NothingHere(HttpContext context)
    {
        context.Response.StatusCode = StatusCodes.Status404NotFound;
        return Task.CompletedTask;
    }

    public static void SeeOther(HttpResponse response, string address)
    {
        response.StatusCode = StatusCodes.Status303SeeOther;
        response.Headers.Location = address;
    }

    public static Task HtmlAsync(HttpContext context, string page) => SendAsync(context, "text/html; charset=utf-8", Encoding.UTF8.GetBytes(page));

    public static Task JsonAsync(HttpContext context, byte[] document) => SendAsync(context, "application/json; charset=utf-8", document);

    public static async Task SendAsync(HttpContext context, string type, byte[] content)
    {
        context.Response.ContentType = type;
        context.Response.ContentLength = content.Length;
        if (!HttpMethods.IsHead(context.Request.Method))
        {
            await context.Response.Body.WriteAsync(content, context.RequestAborted).ConfigureAwait(false);
        }
    }

    /// <summary>In the language of whoever asks: a person gets a page with a way back, a command or a script, which asks for no page, the sentence alone.</summary>
    public static Task RefuseAsync(HttpContext context, int status, Sentence why)
    {
        context.Response.StatusCode = status;
        return context.Request.Headers.Accept.ToString().Contains("text/html", StringComparison.Ordinal)
            ? HtmlAsync(context, PageRenderer.Refusal(why, HttpMethods.IsPost(context.Request.Method), context.Language()))
            : SendAsync(context, "text/plain; charset=utf-8", Encoding.UTF8.GetBytes(context.Language().Say(why) + "\n"));
    }

    /// <summary>What this page takes comes as a form, and no longer than any of ours. That it came from our own page was judged before, by the gate.</summary>
    /// <param name="context">The request.</param>
    /// <param name="bytes">Longest body, where that is more than the server takes elsewhere.</param>
    /// <param name="fields">Most fields.</param>
    /// <returns>Null where it was refused.</returns>
    public static async Task<IFormCollection?> FormAsync(HttpContext context, int bytes = Limits.RequestBody, int fields = Limits.FormFields)
    {
        HttpRequest request = context.Request;
        if (!request.HasFormContentType)
        {
            await RefuseAsync(context, StatusCodes.Status415UnsupportedMediaType, Say($"Send a form, as this tool's own page does.")).ConfigureAwait(false);
            return null;
        }

        // Only now, as from elsewhere nothing long is taken.
        if (bytes > Limits.RequestBody && context.Features.Get<IHttpMaxRequestBodySizeFeature>() is { IsReadOnly: false } size)
        {
            size.MaxRequestBodySize = bytes;
        }

        try
        {
            // Files that come along stay in memory: the card is for the log.
            FormOptions bounds = new() { ValueCountLimit = fields, KeyLengthLimit = 64, ValueLengthLimit = bytes, MultipartBodyLengthLimit = bytes, MemoryBufferThreshold = bytes };
            return await request.ReadFormAsync(bounds, context.RequestAborted).ConfigureAwait(false);
        }
        catch (Microsoft.AspNetCore.Http.BadHttpRequestException problem) when (problem.StatusCode == StatusCodes.Status413PayloadTooLarge && bytes > Limits.RequestBody)
        {
            await RefuseAsync(context, StatusCodes.Status413PayloadTooLarge, Say($"That is longer than an as-built record may be.")).ConfigureAwait(false);
            return null;
        }
        catch (Exception problem) when (problem is InvalidDataException or NotSupportedException or Microsoft.AspNetCore.Http.BadHttpRequestException)
        {
            // The second of these is an encoding that is no longer read, UTF-7.
            await RefuseAsync(context, StatusCodes.Status400BadRequest, Say($"That is no form as this tool's own page sends it, or a text in it is too long: {bytes} bytes at most.")).ConfigureAwait(false);
            return null;
        }
    }
}
