using System.Runtime.CompilerServices;

namespace Diagnostics.Tests;

/// <summary>Waits for a fact, for as long as the slowest machine may need. What never comes is a failed test with its name, not a run that never ends.</summary>
internal static class Patience
{
    /// <summary>No measure of speed: only hangs take longer.</summary>
    private static readonly TimeSpan Limit = TimeSpan.FromMinutes(5);

    /// <summary>Looks some fifty times a second, and leaves the rest to what is waited for.</summary>
    private static readonly TimeSpan Step = TimeSpan.FromMilliseconds(20);

    public static async Task UntilAsync(Func<Task<bool>> isSo, [CallerArgumentExpression(nameof(isSo))] string? fact = null)
    {
        for (long began = TimeProvider.System.GetTimestamp(); !await isSo();)
        {
            Judge(began, fact);
            await Task.Delay(Step, TestContext.Current.CancellationToken);
        }
    }

    public static Task UntilAsync(Func<bool> isSo, [CallerArgumentExpression(nameof(isSo))] string? fact = null) => UntilAsync(() => Task.FromResult(isSo()), fact);

    /// <summary>For what is so within moments, many times in a test: it never sleeps.</summary>
    public static void Until(Func<bool> isSo, [CallerArgumentExpression(nameof(isSo))] string? fact = null)
    {
        for (long began = TimeProvider.System.GetTimestamp(); !isSo();)
        {
            Judge(began, fact);
            Thread.Yield();
        }
    }

    private static void Judge(long began, string? fact)
    {
        TestContext.Current.CancellationToken.ThrowIfCancellationRequested();
        if (TimeProvider.System.GetElapsedTime(began) > Limit)
        {
            Assert.Fail($"After {Limit.TotalMinutes} minutes it is still not so: {fact}");
        }
    }
}
