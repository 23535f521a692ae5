using Diagnostics.Can;
using Diagnostics.Core.Diagnosis;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Symptom: the bus is too full. Limit: every one of the last 10 whole seconds above 70 % (warning) or 90 % (fault) of capacity; over when 10 in a row
/// stay below 60 %. Why: near full load low priorities wait without bound (contract; the two limits are common practice, no source).
/// Where uploads and downloads make most of it they don't count: they fill a bus on purpose, end by themselves, and everything but heartbeats goes before them (580h–67Fh, CiA 301).
/// Lost frames only lower the load, so nothing is held back. Without a bit rate there is no load and no finding.
/// </summary>
internal sealed class LoadDetector(Bus bus)
{
    private const double Warning = 0.7;
    private const double Fault = 0.9;
    private const double Clear = 0.6;
    private const int Seconds = 10;

    private int _aboveWarning;
    private int _aboveFault;
    private int _belowClear;

    public void OnSecond(Instant now)
    {
        if (bus.BitRate is not int rate)
        {
            return;
        }

        double load = bus.Load.BitsInLastSecond / rate;
        double transfers = load < Clear ? 0 : BitsOfTransfers() / rate;
        double lasting = transfers > load / 2 ? load - transfers : load;
        _aboveWarning = lasting > Warning ? _aboveWarning + 1 : 0;
        _aboveFault = lasting > Fault ? _aboveFault + 1 : 0;
        _belowClear = lasting < Clear ? _belowClear + 1 : 0;
        if (_belowClear == Seconds)
        {
            bus.Book.Close(Catalogue.LoadHigh, bus.Name, Subject.WholeBus, now - TimeSpan.FromSeconds(Seconds));
        }

        if (_aboveWarning < Seconds)
        {
            return;
        }

        bool isNew = !bus.Book.IsOpen(Catalogue.LoadHigh, bus.Name, Subject.WholeBus);
        Finding finding = bus.Book.Raise(Catalogue.LoadHigh, bus.Name, Subject.WholeBus, now - TimeSpan.FromSeconds(Seconds), now, 0.99);
        finding.Severity = _aboveFault >= Seconds || (!isNew && finding.Severity == Severity.Fault) ? Severity.Fault : Severity.Warning;
        if (!isNew)
        {
            return;
        }

        finding.Tell(
            Say($"The bus is {Text.Percent(load)} full: modules of low priority have to wait and may come late."),
            Say($"The bus was {Text.Percent(load)} full: modules of low priority had to wait and may have come late."));
        finding.AddEvidence(now, Say($"Every one of the last {Seconds} seconds was above {Text.Percent(Warning)}."));
        finding.Measurements = [new("load", Math.Round(load, 4), "1")];
        finding.Causes = Causes.Of(
            (Cause.Overload, 5, Say($"The modules may be set to send more often than the bit rate carries.")),
            (Cause.CommandLoop, 2, Say($"Two rules may keep answering each other.")),
            (Cause.DeviceFault, 1, Say($"One module may send without end.")),
            (Cause.BitRateWrong, 1, Say($"If the bit rate given is too low, the load shown is too high.")));
    }

    /// <summary>Of SDO in the last second; before the bus is known as CANopen what looks like it, each request with its answer.</summary>
    private double BitsOfTransfers()
    {
        double bits = 0;
        for (uint node = 1; node <= 127 && bus.Protocol.MayBeCanOpen; node++)
        {
            if (bus.Identifiers.Find(CanId.Base(0x600 + node)) is { } request && bus.Identifiers.Find(CanId.Base(0x580 + node)) is { } answer
                && (bus.Protocol.IsCanOpen || Math.Abs(request.FramesLastSecond - answer.FramesLastSecond) <= 2))
            {
                bits += request.BitsLastSecond + answer.BitsLastSecond;
            }
        }

        return bits;
    }
}
