using Diagnostics.Can;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Diagnosis;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Symptom: a sender repeats one frame because nobody acknowledges. A listen-only adapter sees the sender's error flag as a form error at the
/// acknowledge delimiter while the sender is error-active (16 attempts), and once it is error-passive sees the frame itself, valid and repeated back to back.
/// An adapter that takes part would acknowledge and hide it; there, acknowledge errors of our own transmissions tell the same.
/// Limit: three wire errors within 100 ms, all of them of form or acknowledge, then the same frame four times in a row; or the same frame 200 times without a gap and with nobody else in between;
/// or three acknowledge errors of our own within 10 s. Why four: collisions end in two frames, and those differ.
/// Why no other errors: interference makes an error-passive sender repeat what we heard well, too, but it spoils frames before their end as well.
/// Lost frames can't create repeats, so nothing is held back. Over 5 s after the last repeat.
/// </summary>
internal sealed class NoAcknowledgeDetector(Bus bus)
{
    private const int RepeatsAfterErrors = 4;
    private const int RepeatsAlone = 200;
    private const int ErrorsBefore = 3;
    private const int OwnErrors = 3;

    /// <summary>
    /// After the acknowledge slot an error-passive sender puts a passive flag of 6 bits, a delimiter of 8, the intermission and 8 more bits of suspended
    /// transmission (ISO 11898-1), where a good frame has delimiter and end of frame of 8 and the intermission: 14 bits longer. 12 more for the stamps.
    /// </summary>
    private const int SuspendBits = 14 + 12;
    private const long BackToBackNanoseconds = 5_000_000;
    private static readonly TimeSpan ErrorsWithin = TimeSpan.FromMilliseconds(100);
    private static readonly TimeSpan OwnWithin = TimeSpan.FromSeconds(10);

    private CanId _id;
    private ulong _payload;
    private byte _length;
    private FrameFlags _flags;
    private long _last = long.MinValue;
    private int _run;
    private int _gaplessRun;
    private Instant _runStart;
    private bool _errorsBefore;
    private int _errors;
    private Instant _errorsStart;
    private int _ownErrors;
    private Instant _firstOwn;

    public void OnFrame(in CanFrame frame, IdentifierState identifier)
    {
        long now = frame.Time.Nanoseconds;
        long limit = bus.NanosecondsPerBit > 0 ? (long)(400 * bus.NanosecondsPerBit) : BackToBackNanoseconds;
        bool isGapless = bus.NanosecondsPerBit > 0 && now - _last <= (identifier.LastBits + SuspendBits) * bus.NanosecondsPerBit;
        if (frame.Id == _id && frame.Length == _length && frame.Flags == _flags && frame.FirstEight == _payload && now - _last <= limit)
        {
            _run++;
            _gaplessRun = isGapless ? _gaplessRun + 1 : 0;
        }
        else
        {
            _run = 1;
            _gaplessRun = 0;
            _runStart = frame.Time;
            _id = frame.Id;
            _length = frame.Length;
            _flags = frame.Flags;
            _payload = frame.FirstEight;
            _errors = bus.Errors.LastRun;
            _errorsStart = bus.Errors.RunStart;
            _errorsBefore = bus.Errors.LastRun >= ErrorsBefore && !bus.Errors.IsLastRunSpoilt && frame.Time - bus.Errors.LastRunEnd < ErrorsWithin && bus.Errors.FramesSinceRun == 1;
        }

        _last = now;
        if ((_errorsBefore && _run >= RepeatsAfterErrors) || _gaplessRun >= RepeatsAlone)
        {
            Report(identifier, frame.Time);
        }
    }

    public void OnAcknowledgeError(Instant time)
    {
        if (_ownErrors == 0 || time - _firstOwn > OwnWithin)
        {
            _ownErrors = 0;
            _firstOwn = time;
        }

        if (++_ownErrors < OwnErrors)
        {
            return;
        }

        bool isNew = !bus.Book.IsOpen(Catalogue.NoAcknowledge, bus.Name, Subject.WholeBus);
        Finding finding = bus.Book.Raise(Catalogue.NoAcknowledge, bus.Name, Subject.WholeBus, _firstOwn, time, 0.95);
        finding.HoldOff = OwnWithin;
        if (isNew)
        {
            finding.Tell(Say($"What this adapter's side sends is acknowledged by nobody."), Say($"What this adapter's side sent was acknowledged by nobody."));
            finding.AddEvidence(_firstOwn, Say($"First acknowledge error."));
            finding.Causes = Alone();
        }
    }

    public void OnSecond(Instant now)
    {
        if (_ownErrors > 0 && now - _firstOwn > OwnWithin)
        {
            _ownErrors = 0;
        }
    }

    private void Report(IdentifierState identifier, Instant time)
    {
        Subject subject = new() { Id = identifier.Id, Node = bus.Protocol.IsCanOpen && identifier.Node != 0 ? identifier.Node : null };
        if (bus.Book.Find(Catalogue.NoAcknowledge, bus.Name, subject) is { End: null } open)
        {
            open.LastEvidence = time;
            return;
        }

        Finding finding = bus.Book.Raise(Catalogue.NoAcknowledge, bus.Name, subject, _errorsBefore ? _errorsStart : _runStart, time, _errorsBefore ? 0.97 : 0.9);
        finding.HoldOff = TimeSpan.FromSeconds(5);
        Sentence who = subject.Node is int node ? bus.Names.Node(node) : Say($"The sender of {identifier.Id.ToString()}");
        finding.Tell(
            Say($"{who} repeats the same frame over and over: nobody acknowledges it, so it is probably alone on its stretch of cable."),
            Say($"{who} repeated the same frame over and over: nobody acknowledged it, so it was probably alone on its stretch of cable."));
        if (_errorsBefore)
        {
            finding.AddEvidence(_errorsStart, Say($"{_errors:N0} errors in a row before the repeats began."));
        }

        finding.AddEvidence(time, Say($"{identifier.Id.ToString()} came {_run:N0} times in a row, unchanged."));
        finding.Causes = Alone();
    }

    private static IReadOnlyList<Reporting.CauseReport> Alone() => Causes.Of(
        (Cause.SenderAlone, 5, Say($"A lone sender gets no acknowledge and repeats for ever; it never goes bus-off by that.")),
        (Cause.CableOpen, 3, Say($"An open trunk leaves the sender alone with us.")),
        (Cause.SupplyWeak, 1, Say($"All others may be without power.")));
}
