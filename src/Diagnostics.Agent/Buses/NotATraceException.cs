namespace Diagnostics.Agent.Buses;

/// <summary>What was named holds no recorded traffic. A command that takes more than traces says what else it would take.</summary>
internal sealed class NotATraceException(string which, string why, string remedy) : SettingException(which, why, remedy)
{
    public string Which { get; } = which;

    public string Why { get; } = why;
}
