using Diagnostics.Agent.Boards.Sensors;
using Diagnostics.Can;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Measuring;
using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.Commands;

/// <summary>
/// Where traffic comes from: interfaces, a trace, a simulated site. It is asked by one consumer, which thereby owns the analysis alone;
/// a source that reads on a thread of its own keeps a bounded queue behind this.
/// </summary>
internal interface IBusSource : IDisposable
{
    /// <summary>live, trace or simulated, as the report document names it.</summary>
    string Kind { get; }

    /// <summary>What the report calls it: the interfaces, the file, the invented site.</summary>
    string Name { get; }

    /// <summary>What a reader should know about how the source was read, as whole sentences; complete once it has ended.</summary>
    IReadOnlyList<Sentence> Remarks => [];

    /// <summary>An as-built record that comes with the source; one that the user gives wins. Null for all but the simulated site.</summary>
    AsBuiltRecord? Site => null;

    /// <summary>That record as text, UTF-8.</summary>
    byte[]? SiteText => null;

    /// <summary>What the source's own supply is judged by, where it brings sensors. Null for all but the simulated site.</summary>
    MeasuringLimits? Measuring => null;

    /// <summary>
    /// Where the source's own time line is now, so that silence can be told while nothing arrives; null where only frames move it (a trace).
    /// </summary>
    Instant? Now { get; }

    /// <summary>This moment on that line, for whoever measures beside the bus; any thread may ask. Null where there is no such line, or none yet.</summary>
    Instant? ThisMoment => null;

    /// <summary>
    /// What the clock on the wall says now, less the line: a board without a clock battery starts with a wrong date and is told the right one later.
    /// The line doesn't jump then, so this must be added to whatever a person reads. Zero for traces, which bear their own times.
    /// </summary>
    TimeSpan WallMinusLine => TimeSpan.Zero;

    /// <summary>From now on what the source's own sensors measure goes here, as from those of a board. Only the simulated site has any.</summary>
    void Attach(SensorQueue sensors)
    {
    }

    /// <summary>
    /// Hands over, on the calling thread and in order, what was heard since the last call; where that is nothing, waits for up to <paramref name="patience"/>.
    /// False = there will be no more.
    /// </summary>
    /// <exception cref="SettingException">What the user named can't be read at all (an unknown interface, a file that is no trace).</exception>
    bool Read(IFrameSink sink, TimeSpan patience, CancellationToken cancellation);
}
