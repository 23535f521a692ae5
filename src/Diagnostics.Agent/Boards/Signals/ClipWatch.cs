namespace Diagnostics.Agent.Boards.Signals;

/// <summary>The check after clipping on, of the service as it stands.</summary>
internal sealed class ClipWatch(AgentState state, BoardSettings settings, TimeProvider clock)
{
    private readonly long _began = clock.GetTimestamp();

    public ClipCheck Now() => ClipCheck.Of(new(state.Report, clock.GetElapsedTime(_began))
    {
        Settings = settings,
        Sensors = state.Sensors,
        KeepsLog = state.KeepsLog,
        Troubles = state.Troubles,
        Acknowledgements = state.Acknowledgements,
    });
}
