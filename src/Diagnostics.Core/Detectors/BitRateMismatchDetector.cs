using Diagnostics.Can;
using Diagnostics.Core.Diagnosis;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Symptom: only errors are heard, or a node's arrival brings steady errors. Limit: ten errors over at least 3 s with no good frame among them and the last
/// 5 s; or errors that dominate each of 10 seconds in a row (<see cref="Counting.Hindrance"/>). Why: a controller at the wrong rate never gets a frame right, and one
/// among many destroys every frame it hears until it gives up; interference isn't that steady (limits: common practice, no source).
/// A lone sender without acknowledge gives 16 errors within milliseconds, and so doesn't reach 3 s.
/// Lost frames: good frames that we lost would look like this, so it waits until the record has been whole for the time judged.
/// </summary>
internal sealed class BitRateMismatchDetector(Bus bus)
{
    private const int ErrorsNeeded = 10;
    private const int SteadySeconds = 10;
    private static readonly TimeSpan Span = TimeSpan.FromSeconds(3);
    private static readonly TimeSpan Quiet = TimeSpan.FromSeconds(5);

    private Instant _firstAlone = Instant.MinValue;
    private int _alone;
    private int _steady;

    public void OnWireError(Instant time)
    {
        if (_firstAlone == Instant.MinValue || _firstAlone < bus.LastFrame)
        {
            _firstAlone = time;
            _alone = 0;
        }

        _alone++;
    }

    public void OnSecond(Instant now)
    {
        _steady = bus.Hindrance.ErrorsDominate ? _steady + 1 : 0;
        Instant reference = Instant.Max(bus.LastFrame, bus.WholeSince);
        bool onlyErrors = _alone >= ErrorsNeeded
            && _firstAlone > bus.LastFrame
            && bus.Errors.LastError - _firstAlone >= Span
            && now - bus.Errors.LastError < Quiet
            && (reference == Instant.MinValue || now - reference > Quiet);
        bool steady = _steady >= SteadySeconds && now - bus.WholeSince > TimeSpan.FromSeconds(SteadySeconds);
        bool isOpen = bus.Book.IsOpen(Catalogue.BitRateMismatch, bus.Name, Subject.WholeBus);
        if (!onlyErrors && !steady)
        {
            if (isOpen && (now - bus.Errors.LastError > Quiet || _steady == 0) && now - bus.LastFrame < Quiet)
            {
                bus.Book.Close(Catalogue.BitRateMismatch, bus.Name, Subject.WholeBus, bus.Errors.LastError);
            }

            return;
        }

        if (isOpen)
        {
            return;
        }

        Instant start = onlyErrors ? _firstAlone : now - TimeSpan.FromSeconds(SteadySeconds);
        Finding finding = bus.Book.Raise(Catalogue.BitRateMismatch, bus.Name, Subject.WholeBus, start, now, onlyErrors ? 0.9 : 0.8);
        if (onlyErrors)
        {
            if (bus.LastFrame == Instant.MinValue)
            {
                finding.Tell(
                    Say($"Only errors are heard and not one good frame: the bit rate set here probably isn't the bus's."),
                    Say($"Only errors were heard and not one good frame: the bit rate set here probably wasn't the bus's."));
            }
            else
            {
                finding.Tell(Say($"Only errors are heard and no good frame any more."), Say($"Only errors were heard and no good frame any more."));
            }

            finding.AddEvidence(_firstAlone, Say($"{_alone:N0} errors since then, no good frame."));
            finding.Causes = bus.LastFrame == Instant.MinValue
                ? Causes.Of(
                    (Cause.BitRateWrong, 6, Say($"Nothing was ever heard right at this bit rate.")),
                    (Cause.CableShort, 1, Say($"A short or swapped lines damage everything.")),
                    (Cause.TerminationMissing, 1, Say($"Without termination no frame gets through.")))
                : Causes.Of(
                    (Cause.BitRateWrong, 3, Say($"A module at another bit rate may have been added.")),
                    (Cause.CableShort, 3, Say($"A short damages everything from one moment on.")),
                    (Cause.DeviceFault, 2, Say($"A transceiver that holds the bus does the same.")));
        }
        else
        {
            finding.Tell(
                Say($"Errors come steadily with the traffic, second after second: a module at another bit rate or a fault of the trunk."),
                Say($"Errors came steadily with the traffic, second after second: a module at another bit rate or a fault of the trunk."));
            finding.AddEvidence(now, Say($"{bus.Errors.InLastSecond:N0} errors beside {bus.Hindrance.FramesInLastSecond:N0} good frames in the last second, and like that for {SteadySeconds} s."));
            finding.Causes = Causes.Of(
                (Cause.BitRateWrong, 4, Say($"A module at another bit rate destroys what it hears.")),
                (Cause.TerminationMissing, 2, Say($"Without termination most frames are damaged.")),
                (Cause.CableShort, 1, Say($"A partial short does the same.")),
                (Cause.CableIntermittent, 2, Say($"A joint that never holds does the same.")))
                .AdviseTrunk();
        }
    }
}
