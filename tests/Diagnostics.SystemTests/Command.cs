using System.Diagnostics;

namespace Diagnostics.SystemTests;

/// <summary>Runs a program to its end.</summary>
/// <param name="Status">Exit code.</param>
/// <param name="Output">Standard output.</param>
/// <param name="Error">Standard error.</param>
internal sealed record Command(int Status, string Output, string Error)
{
    public static string Program { get; } = Path.Combine(AppContext.BaseDirectory, "diagnostics");

    public static async Task<Command> RunAsync(string program, params string[] arguments)
    {
        using Process process = Start(program, arguments);
        CancellationToken cancellation = TestContext.Current.CancellationToken;
        Task<string> output = process.StandardOutput.ReadToEndAsync(cancellation);
        Task<string> error = process.StandardError.ReadToEndAsync(cancellation);
        await process.WaitForExitAsync(cancellation);
        return new(process.ExitCode, await output, await error);
    }

    /// <summary>Standard input is closed at once, the settings of the machine are left aside.</summary>
    public static Process Start(string program, IEnumerable<string> arguments, params (string Name, string Value)[] environment)
    {
        ProcessStartInfo start = new(program) { RedirectStandardInput = true, RedirectStandardOutput = true, RedirectStandardError = true, UseShellExecute = false };
        foreach (string argument in arguments)
        {
            start.ArgumentList.Add(argument);
        }

        foreach (string name in start.Environment.Keys.Where(name => name.StartsWith("DIAGNOSTICS_", StringComparison.Ordinal) || name is "NOTIFY_SOCKET" or "JOURNAL_STREAM").ToArray())
        {
            start.Environment.Remove(name);
        }

        foreach ((string name, string value) in environment)
        {
            start.Environment[name] = value;
        }

        Process process = Process.Start(start)!;
        process.StandardInput.Close();
        return process;
    }

    public static string? Find(string program) => (Environment.GetEnvironmentVariable("PATH") ?? string.Empty)
        .Split(':').Select(directory => Path.Combine(directory, program)).FirstOrDefault(File.Exists);
}
