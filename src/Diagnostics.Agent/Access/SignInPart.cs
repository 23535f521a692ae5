using System.Globalization;
using Diagnostics.Agent.Pages;
using Diagnostics.Core.Wording;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;
using Microsoft.Extensions.Logging;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Access;

/// <summary>Signing in and out from other devices. One passcode is checked at a time, because that takes a core for a second or more and the analysis needs the rest.</summary>
internal sealed partial class SignInPart(Gate gate, ILogger logger) : IPagePart, IDisposable
{
    public const string Path = "/sign-in";
    public const string OutPath = "/sign-out";
    public const string PasscodeField = "passcode";

    private readonly SemaphoreSlim _check = new(1);
    private int _waiting;

    public void Map(IEndpointRouteBuilder routes)
    {
        routes.MapRead(Path, ShowAsync);
        routes.MapPost(Path, SignInAsync);
        routes.MapPost(OutPath, SignOutAsync);
    }

    public void Dispose() => _check.Dispose();

    private static bool IsDistant(HttpContext context) => context.Features.Get<Arrival>() is { IsDistant: true };

    /// <summary>On the board, and for who is in, there is nothing to sign in to.</summary>
    private Task ShowAsync(HttpContext context)
    {
        if (!IsDistant(context) || context.Features.Get<Session>() is not null)
        {
            PageAnswers.SeeOther(context.Response, "/");
            return Task.CompletedTask;
        }

        return AnswerAsync(context, StatusCodes.Status200OK, null);
    }

    private async Task SignInAsync(HttpContext context)
    {
        if (!IsDistant(context))
        {
            PageAnswers.SeeOther(context.Response, "/");
            return;
        }

        if (await PageAnswers.FormAsync(context).ConfigureAwait(false) is not { } form)
        {
            return;
        }

        if (Interlocked.Increment(ref _waiting) > Limits.WaitingSignIns)
        {
            Interlocked.Decrement(ref _waiting);
            await RetryAsync(context, StatusCodes.Status503ServiceUnavailable, TimeSpan.FromSeconds(5), Say($"Several people sign in at this moment. Try again in a few seconds.")).ConfigureAwait(false);
            return;
        }

        try
        {
            await _check.WaitAsync(context.RequestAborted).ConfigureAwait(false);
            try
            {
                await CheckAsync(context, form[PasscodeField].ToString()).ConfigureAwait(false);
            }
            finally
            {
                _check.Release();
            }
        }
        finally
        {
            Interlocked.Decrement(ref _waiting);
        }
    }

    private async Task CheckAsync(HttpContext context, string given)
    {
        System.Net.IPAddress from = context.Features.Get<Arrival>()!.Address;
        if (!gate.Throttle.TryBegin(from, out TimeSpan wait))
        {
            int seconds = (int)Math.Ceiling(wait.TotalSeconds);
            await RetryAsync(
                context,
                StatusCodes.Status429TooManyRequests,
                wait,
                Say(seconds, $"There were too many wrong passcodes. Try again in {seconds:N0} second.", $"There were too many wrong passcodes. Try again in {seconds:N0} seconds.")).ConfigureAwait(false);
            return;
        }

        PasscodeState passcode = gate.Passcode();
        if (passcode.Hash is not { } hash || given.Length is 0 or > Limits.LongestPasscode || !await hash.IsOfAsync(given).ConfigureAwait(false))
        {
            Wrong(from.ToString());
            await AnswerAsync(context, StatusCodes.Status403Forbidden, Say($"That is not the passcode.")).ConfigureAwait(false);
            return;
        }

        // Set anew while this one was being checked: it isn't the passcode any more.
        if (!ReferenceEquals(passcode, gate.Passcode()))
        {
            await AnswerAsync(context, StatusCodes.Status403Forbidden, Say($"The passcode was changed just now.")).ConfigureAwait(false);
            return;
        }

        gate.Throttle.Succeeded(from);
        context.Response.Cookies.Append(gate.CookieName, gate.Sessions.Begin(), Cookie());
        SignedIn(from.ToString());
        PageAnswers.SeeOther(context.Response, "/");
    }

    private Task SignOutAsync(HttpContext context)
    {
        if (context.Features.Get<Session>() is { } session)
        {
            gate.Sessions.End(session);
            context.Response.Cookies.Delete(gate.CookieName, Cookie());
        }

        PageAnswers.SeeOther(context.Response, IsDistant(context) ? Path : "/");
        return Task.CompletedTask;
    }

    /// <summary>It goes with the browser, and at the board after hours: no time of its own is given.</summary>
    private CookieOptions Cookie() => new() { HttpOnly = true, SameSite = SameSiteMode.Strict, Secure = gate.Settings.Certificate is not null, Path = "/", IsEssential = true };

    private Task RetryAsync(HttpContext context, int status, TimeSpan wait, Sentence why)
    {
        context.Response.Headers.RetryAfter = Math.Max(1, (int)Math.Ceiling(wait.TotalSeconds)).ToString(CultureInfo.InvariantCulture);
        return AnswerAsync(context, status, why);
    }

    private Task AnswerAsync(HttpContext context, int status, Sentence? why)
    {
        context.Response.StatusCode = status;
        return PageAnswers.HtmlAsync(context, SignInPage.Write(why, gate.Settings.Certificate is not null, context.Language()));
    }

    [LoggerMessage(33, LogLevel.Warning, "access: a wrong passcode from {Address}.")]
    private partial void Wrong(string address);

    [LoggerMessage(34, LogLevel.Information, "access: signed in from {Address}.")]
    private partial void SignedIn(string address);
}
