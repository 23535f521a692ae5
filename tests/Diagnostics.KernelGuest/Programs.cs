using System.Diagnostics;

namespace Diagnostics.KernelGuest;

/// <summary>Other programs of this machine.</summary>
internal static class Programs
{
    internal static void Run(string program, params string[] arguments)
    {
        if (TryRun(program, arguments) is { } problem)
        {
            throw new IOException(problem);
        }
    }

    /// <returns>What went wrong; null = nothing.</returns>
    internal static string? TryRun(string program, params string[] arguments)
    {
        using Process process = Process.Start(new ProcessStartInfo(program, arguments) { RedirectStandardError = true })!;
        string error = process.StandardError.ReadToEnd().Trim();
        process.WaitForExit();
        return process.ExitCode == 0 ? null : $"{program} {string.Join(' ', arguments)} ended with {process.ExitCode}: {error}";
    }
}
