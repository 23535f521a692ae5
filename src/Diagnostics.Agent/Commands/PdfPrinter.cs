using System.Diagnostics;
using System.Text;

namespace Diagnostics.Agent.Commands;

/// <summary>
/// Prints a page into a PDF by a browser that is on this machine: nothing else lays out HTML for paper as well, and a board needs none. It runs without a window, without a
/// network and without the profile of whoever uses it, in a directory of its own that is removed.
/// </summary>
internal sealed class PdfPrinter
{
    /// <summary>Names under which distributions install it, the usual one first.</summary>
    private static readonly string[] Names = ["chromium", "chromium-browser", "google-chrome", "google-chrome-stable"];

    private const string Install = "install the package 'chromium' (Debian: sudo apt install chromium), or write a page with --html and print that";

    private readonly string _program;

    private PdfPrinter(string program) => _program = program;

    /// <exception cref="SettingException">There is no browser that prints.</exception>
    public static PdfPrinter Find(IReadOnlyDictionary<string, string> environment)
    {
        string[] folders = environment.GetValueOrDefault("PATH", string.Empty).Split(':', StringSplitOptions.RemoveEmptyEntries);
        string? program = Names.SelectMany(name => folders.Select(folder => Path.Combine(folder, name))).FirstOrDefault(IsProgram);
        return new(program ?? throw new SettingException(PageFile.Pdf, $"no browser that can print is on the path ({string.Join(", ", Names)})", Install));
    }

    /// <returns>The PDF.</returns>
    /// <exception cref="SettingException">The browser fails, or takes too long.</exception>
    public async Task<byte[]> PrintAsync(string page, CancellationToken cancellation)
    {
        DirectoryInfo directory = Directory.CreateTempSubdirectory("diagnostics-print-");
        try
        {
            string source = Path.Combine(directory.FullName, "record.html");
            string target = Path.Combine(directory.FullName, "record.pdf");
            await File.WriteAllTextAsync(source, page, new UTF8Encoding(encoderShouldEmitUTF8Identifier: false), cancellation).ConfigureAwait(false);
            (int status, string said) = await RunAsync(directory.FullName, source, target, cancellation).ConfigureAwait(false);
            byte[] printed = File.Exists(target) ? await File.ReadAllBytesAsync(target, cancellation).ConfigureAwait(false) : [];
            return status == 0 && printed.AsSpan().StartsWith("%PDF-"u8)
                ? printed
                : throw new SettingException(PageFile.Pdf, $"'{_program}' printed nothing (exit code {status}{(said.Length > 0 ? ", " + said.TrimEnd('.') : string.Empty)})", "write a page with --html and print that");
        }
        finally
        {
            Remove(directory);
        }
    }

    private async Task<(int Status, string Said)> RunAsync(string directory, string source, string target, CancellationToken cancellation)
    {
        ProcessStartInfo start = new(_program) { RedirectStandardInput = true, RedirectStandardOutput = true, RedirectStandardError = true, UseShellExecute = false, WorkingDirectory = directory };
        foreach (string argument in Arguments(directory, source, target))
        {
            start.ArgumentList.Add(argument);
        }

        // Its caches and settings go where the rest goes.
        foreach (string name in new[] { "HOME", "TMPDIR", "XDG_CONFIG_HOME", "XDG_CACHE_HOME", "XDG_DATA_HOME" })
        {
            start.Environment[name] = directory;
        }

        using Process process = Start(start);
        process.StandardInput.Close();
        using CancellationTokenSource patience = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
        patience.CancelAfter(Limits.Printing);
        try
        {
            Task<string> output = LastLineAsync(process.StandardOutput, patience.Token);
            Task<string> error = LastLineAsync(process.StandardError, patience.Token);
            await process.WaitForExitAsync(patience.Token).ConfigureAwait(false);
            await output.ConfigureAwait(false);
            return (process.ExitCode, await error.ConfigureAwait(false));
        }
        catch (OperationCanceledException)
        {
            process.Kill(entireProcessTree: true);
            await process.WaitForExitAsync(CancellationToken.None).ConfigureAwait(false);
            cancellation.ThrowIfCancellationRequested();
            throw new SettingException(PageFile.Pdf, $"'{_program}' didn't end within {Limits.Printing.TotalSeconds} s", "write a page with --html and print that");
        }
    }

    private static IEnumerable<string> Arguments(string directory, string source, string target)
    {
        yield return "--headless";

        // Its sandbox refuses to be root's; what it shows here is a page of our own, without scripts.
        if (Environment.IsPrivilegedProcess)
        {
            yield return "--no-sandbox";
        }

        yield return "--disable-gpu";
        yield return "--no-first-run";
        yield return "--no-default-browser-check";
        yield return "--disable-extensions";
        yield return "--disable-sync";
        yield return "--disable-background-networking";
        yield return "--disable-component-update";
        yield return "--disable-dev-shm-usage";

        // Whatever it might look for, there is no network.
        yield return "--host-resolver-rules=MAP * ~NOTFOUND";
        yield return "--user-data-dir=" + Path.Combine(directory, "profile");
        yield return "--no-pdf-header-footer";
        yield return "--print-to-pdf=" + target;
        yield return new Uri(source).AbsoluteUri;
    }

    private Process Start(ProcessStartInfo start)
    {
        try
        {
            return Process.Start(start)!;
        }
        catch (System.ComponentModel.Win32Exception problem)
        {
            throw new SettingException(PageFile.Pdf, $"'{_program}' can't be started ({problem.Message.TrimEnd('.')})", Install);
        }
    }

    /// <summary>Reads all, so that it never waits for us, and keeps the last line, which says why it failed.</summary>
    private static async Task<string> LastLineAsync(StreamReader reader, CancellationToken cancellation)
    {
        string last = string.Empty;
        while (await reader.ReadLineAsync(cancellation).ConfigureAwait(false) is { } line)
        {
            last = string.IsNullOrWhiteSpace(line) ? last : line.Trim();
        }

        return last;
    }

    private static bool IsProgram(string path) =>
        OperatingSystem.IsLinux() && File.Exists(path) && (File.GetUnixFileMode(path) & (UnixFileMode.UserExecute | UnixFileMode.GroupExecute | UnixFileMode.OtherExecute)) != 0;

    /// <summary>A process of the browser may still be ending; what can't be removed lies among the temporary files.</summary>
    private static void Remove(DirectoryInfo directory)
    {
        try
        {
            directory.Delete(recursive: true);
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException)
        {
        }
    }
}
