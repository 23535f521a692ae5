using System.Text;
using Diagnostics.Can;
using Diagnostics.Can.Traces;
using Diagnostics.Core;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Reporting;
using Diagnostics.Simulation;
using Diagnostics.Simulation.Wires;

namespace Diagnostics.Benchmarks.Accuracy;

/// <summary>One run of one scenario on one site, through the same analysis as everything else.</summary>
internal static class Trial
{
    /// <summary>A working day, so that people are there.</summary>
    private static readonly Instant Morning = Instant.FromDateTime(new(2026, 1, 7, 9, 0, 0, TimeSpan.Zero));

    /// <param name="site">With its faults; begins in the morning.</param>
    /// <param name="length">Simulated time.</param>
    /// <param name="withRecord">Whether the analysis is given the site's as-built record.</param>
    /// <returns>The report, and the bits on the wire by the simulation's own coder.</returns>
    public static (Report Report, SiteSimulation Simulation, long WireBits) Run(Site site, TimeSpan length, bool withRecord)
    {
        SiteSimulation simulation = new(site with { Start = Morning });
        AsBuiltRecord? record = null;
        if (withRecord && !AsBuiltReader.TryRead(Encoding.UTF8.GetBytes(Simulation.AsBuiltText.Write(site)), out record, out AsBuiltError? error))
        {
            throw new InvalidOperationException($"The record of {site.Name} can't be read: {error}");
        }

        Analyzer analyzer = new(new() { SourceKind = "simulated", SourceName = site.Name, Site = record });
        TimeLine line = new(analyzer);
        Recording recording = new(line);
        simulation.Run(recording, length);
        line.Complete();
        return (analyzer.Snapshot(), simulation, recording.Bits);
    }

    /// <summary>A trace holds frames and drops, but no note that the recorder's clock stepped or in which state its controller was: the analysis has to find that out.</summary>
    private sealed class Recording(IFrameSink next) : IFrameSink
    {
        /// <summary>ISO 11898-1.</summary>
        private const int Intermission = 3;

        private readonly Simulation.Wires.FrameBits _coder = new();

        public long Bits { get; private set; }

        public void OnInterface(byte index, InterfaceFacts facts) => next.OnInterface(index, facts with { State = null, TransmitErrorCounter = null, ReceiveErrorCounter = null });

        public void OnFrame(in CanFrame frame)
        {
            if (!frame.IsError)
            {
                _coder.Encode(new(frame.Id.Value, frame.Id.IsExtended, frame.IsRemote, frame.DataLengthCode, frame.FirstEight));
                Bits += _coder.Length + Intermission;
            }

            next.OnFrame(in frame);
        }

        public void OnNotSeen(in NotSeen notSeen)
        {
            if (notSeen.Kind != NotSeenKind.ClockStep)
            {
                next.OnNotSeen(in notSeen);
            }
        }
    }
}
