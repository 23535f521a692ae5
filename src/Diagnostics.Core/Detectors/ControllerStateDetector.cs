using Diagnostics.Can;
using Diagnostics.Core.Diagnosis;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Symptoms: our own controller went error-passive, or bus-off. Limit: as the controller says it (128 and 256, ISO 11898-1; linux/can/error.h).
/// A listen-only controller has no part in the bus: some call themselves error-passive all the time, and none can go bus-off, so there nothing is
/// raised from its state. Where the mode isn't known (a trace), a transmit counter at its limit proves that it takes part; a receive counter counts once a
/// warning came before it, because one that is passive from the start never reports the way there. A receive overflow is told to the ledger.
/// </summary>
internal sealed class ControllerStateDetector(Bus bus)
{
    private bool _sawReceiveWarning;

    public void OnFacts(Instant now)
    {
        if (bus.Facts.ListenOnly == true || bus.Facts.State is not ControllerState state)
        {
            return;
        }

        if (bus.Facts.ListenOnly == false)
        {
            Judge(now, passive: state == ControllerState.ErrorPassive, off: state == ControllerState.BusOff, 0.95, Say($"The interface reports it."));
        }

        if (state is ControllerState.ErrorActive or ControllerState.ErrorWarning)
        {
            Recovered(now);
        }
    }

    public void OnErrorMessage(Instant time, in ErrorMessage message)
    {
        bus.TransmitErrorCounter = message.TransmitErrorCounter ?? bus.TransmitErrorCounter;
        bus.ReceiveErrorCounter = message.ReceiveErrorCounter ?? bus.ReceiveErrorCounter;
        if (message.IsReceiveOverflow)
        {
            bus.Ledger.Add(new(NotSeenKind.KernelDropped, bus.Index, time, time, 1, Say($"the adapter's receive buffer overflowed; at least one frame was lost").English));
        }

        bool hasController = (message.Classes & ErrorClasses.Controller) != 0;
        ControllerProblems problems = hasController ? message.Controller : ControllerProblems.Unspecified;
        bool transmitPassive = (problems & ControllerProblems.TransmitPassive) != 0;
        bool receivePassive = (problems & ControllerProblems.ReceivePassive) != 0;
        bool warning = (problems & (ControllerProblems.ReceiveWarning | ControllerProblems.TransmitWarning)) != 0;
        _sawReceiveWarning |= (problems & ControllerProblems.ReceiveWarning) != 0;

        if (message.IsBusOff)
        {
            bus.BusOff++;
            bus.ControllerState = ControllerState.BusOff;
            Judge(time, passive: false, off: true, 0.98, Say($"The controller reported bus-off."));
        }
        else if (transmitPassive || receivePassive)
        {
            bus.ControllerState = ControllerState.ErrorPassive;
            bool takesPart = bus.Facts.ListenOnly == false || transmitPassive || (bus.Facts.ListenOnly is null && _sawReceiveWarning);
            if (takesPart && bus.Facts.ListenOnly != true)
            {
                Judge(time, passive: true, off: false, transmitPassive ? 0.97 : 0.85, Say($"The controller reported error-passive."));
            }
        }
        else if (warning)
        {
            bus.ControllerState = ControllerState.ErrorWarning;
        }
        else if ((problems & ControllerProblems.BackToActive) != 0 || message.IsRestarted)
        {
            bus.ControllerState = ControllerState.ErrorActive;
            Recovered(time);
        }
    }

    private void Recovered(Instant time)
    {
        bus.Book.Close(Catalogue.ErrorPassive, bus.Name, Subject.WholeBus, time);
        bus.Book.Close(Catalogue.BusOff, bus.Name, Subject.WholeBus, time);
    }

    private void Judge(Instant time, bool passive, bool off, double confidence, Sentence evidence)
    {
        if (off)
        {
            Finding finding = Raise(Catalogue.BusOff, time, confidence, evidence);
            if (bus.Book.Find(Catalogue.ErrorPassive, bus.Name, Subject.WholeBus) is { End: null } before)
            {
                before.ExplainedBy = finding.Key;
            }

            finding.Tell(
                Say($"Our own adapter went bus-off: every frame it sent was damaged, and it has cut itself off."),
                Say($"Our own adapter was bus-off: every frame it sent was damaged, and it had cut itself off."));
            finding.Causes = Causes.Of(
                (Cause.BitRateWrong, 4, Say($"A wrong bit rate of ours damages every frame.")),
                (Cause.CableShort, 3, Say($"A short near our clip does the same.")),
                (Cause.TerminationMissing, 1, Say($"Without termination no frame gets through.")),
                (Cause.AdapterLimit, 1, Say($"The adapter or its transceiver may be faulty.")));
        }
        else if (passive)
        {
            Finding finding = Raise(Catalogue.ErrorPassive, time, confidence, evidence);
            finding.ExplainedBy = null;
            finding.Tell(
                Say($"Our own adapter went error-passive: it sees errors on most of what it sends or hears."),
                Say($"Our own adapter was error-passive: it saw errors on most of what it sent or heard."));
            finding.Causes = Causes.Of(
                (Cause.BitRateWrong, 3, Say($"A wrong bit rate or sample point of ours shows like this.")),
                (Cause.SenderAlone, 3, Say($"A sender that nobody acknowledges ends here and stays.")),
                (Cause.CableIntermittent, 2, Say($"A bad joint near our clip damages what passes.")),
                (Cause.TerminationMissing, 1, Say($"Wrong termination damages edges.")))
                .AdviseOurClip();
        }
    }

    private Finding Raise(FindingKind kind, Instant time, double confidence, Sentence evidence)
    {
        bool isNew = !bus.Book.IsOpen(kind, bus.Name, Subject.WholeBus);
        Finding finding = bus.Book.Raise(kind, bus.Name, Subject.WholeBus, time, time, confidence);
        if (isNew)
        {
            finding.AddEvidence(time, evidence);
        }

        return finding;
    }
}
