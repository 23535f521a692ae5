using System.Globalization;

namespace Diagnostics.Benchmarks;

/// <summary>RssAnon of /proc/self/status: what this process holds in memory that isn't a file's.</summary>
internal static class AnonymousMemory
{
    public static double Mebibytes()
    {
        string line = File.ReadLines("/proc/self/status").First(line => line.StartsWith("RssAnon:", StringComparison.Ordinal));
        return long.Parse(line.Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries)[1], CultureInfo.InvariantCulture) / 1024.0;
    }
}
