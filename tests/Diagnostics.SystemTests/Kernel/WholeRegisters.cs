using System.Diagnostics;

namespace Diagnostics.SystemTests.Kernel;

/// <summary>On a processor with AMX the guest kernel needs help to run any program at all (whole-registers.c says why). Compiled once, where it is needed.</summary>
internal static class WholeRegisters
{
    private const string Compiler = "/usr/bin/gcc";

    private static readonly bool _isNeeded = File.ReadLines("/proc/cpuinfo").Any(line => line.StartsWith("flags", StringComparison.Ordinal) && line.Contains(" amx_tile", StringComparison.Ordinal));

    private static readonly Lazy<string> _library = new(Compile);

    /// <summary>Why it can't be had; null when it can, or isn't needed.</summary>
    public static string? SkipReason => _isNeeded && !File.Exists(Compiler) ? $"this processor has AMX, so the guest kernel needs a library that {Compiler} makes: install the package gcc" : null;

    /// <summary>Lets a kernel that is about to be started run on this processor.</summary>
    public static void Give(ProcessStartInfo kernel)
    {
        if (_isNeeded)
        {
            kernel.Environment["LD_PRELOAD"] = _library.Value;
        }
    }

    private static string Compile()
    {
        string library = Path.Combine(AppContext.BaseDirectory, "whole-registers.so");
        string source = Path.Combine(AppContext.BaseDirectory, "Kernel", "whole-registers.c");
        using Process compiler = Process.Start(new ProcessStartInfo(Compiler, ["-O2", "-shared", "-fPIC", "-fno-builtin", "-nostdlib", "-o", library, source]) { RedirectStandardError = true })!;
        string said = compiler.StandardError.ReadToEnd();
        compiler.WaitForExit();
        return compiler.ExitCode == 0 ? library : throw new InvalidOperationException($"{source} could not be compiled: {said}");
    }
}
