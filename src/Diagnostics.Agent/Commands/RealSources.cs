namespace Diagnostics.Agent.Commands;

/// <summary>The one place where commands meet interfaces, traces and the simulated site.</summary>
internal static class RealSources
{
    public static BusSources Create() => new()
    {
        Live = _ => throw Missing("listen"),
        Trace = (_, _) => throw Missing("replay"),
        Simulated = _ => throw Missing("demo"),
    };

    private static SettingException Missing(string command) =>
        new(command, "this build has no source of traffic for it", "build one that has");
}
