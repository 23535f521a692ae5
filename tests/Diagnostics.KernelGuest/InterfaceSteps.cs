using System.Diagnostics;
using Diagnostics.Agent.Buses;

namespace Diagnostics.KernelGuest;

/// <summary>Sets up the played adapter's interface by the script that the service's unit runs, and leaves what the kernel then says of it.</summary>
public static class InterfaceSteps
{
    public static void RunAll(string script)
    {
        SerialAdapter adapter = new();
        using LinkQuery links = new();
        string name = links.All().Single(link => link is { IsCan: true, Kind: "can" }).Name;
        File.WriteAllText("set-up", Run(script, name));
        File.WriteAllText("link", Run("ip", "-d link show dev " + name));

        // A virtual interface takes part in everything and has no bit rate: it can't be made listen-only.
        File.WriteAllText("refused", Run(script, "vcan0"));
        File.WriteAllText("refused-link", Run("ip", "-d link show dev vcan0"));
        File.WriteAllText("adapter-commands", string.Join('\n', adapter.Commands));
    }

    /// <summary>Output, errors and, on the last line, the exit code.</summary>
    private static string Run(string program, string arguments)
    {
        ProcessStartInfo start = new(program, arguments) { RedirectStandardOutput = true, RedirectStandardError = true };
        start.Environment["BIT_RATE"] = "125000";
        using Process process = Process.Start(start)!;
        Task<string> error = process.StandardError.ReadToEndAsync();
        string output = process.StandardOutput.ReadToEnd();
        process.WaitForExit();
        return $"{output}{error.Result}exit {process.ExitCode}\n";
    }
}
