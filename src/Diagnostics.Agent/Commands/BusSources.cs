using Microsoft.Extensions.Logging;

namespace Diagnostics.Agent.Commands;

/// <summary>The sources that the commands open.</summary>
internal sealed record BusSources
{
    /// <summary>Real interfaces; an empty list = every CAN interface that is there or comes later. What is waited for, or goes and comes, is logged.</summary>
    public required Func<AgentSettings, ILogger, IBusSource> Live { get; init; }

    /// <summary>Traces in the order given, one time line; <c>-</c> is the stream.</summary>
    public required Func<IReadOnlyList<string>, Stream, IBusSource> Trace { get; init; }

    /// <summary>The simulated site of the demo, in real time.</summary>
    public required Func<TimeProvider, IBusSource> Simulated { get; init; }
}
