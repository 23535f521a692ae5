using Diagnostics.Can;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Findings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Sign of two devices on one address: the signature of a collision. Two senders that start one identifier at the same bit damage each other's frames until
/// both are error-passive; then both frames come, back to back, same identifier, different payload. From clean counters that takes exactly 16 attempts
/// (TEC +8 each, passive at 128; ISO 11898-1), and then it is a strong sign. Any other number from 8 on says "cannot tell": earlier errors may have raised
/// the counters, or it was a disturbance, so it counts little.
/// A repeat because nobody acknowledges ends in equal frames and is no sign.
/// Lost frames: a frame lost in between would only hide the signature.
/// </summary>
internal sealed class CollisionSignature(Bus bus, DuplicateAddressDetector duplicate)
{
    private const int FromCleanCounters = 16;
    private const int LeastErrors = 8;

    private IdentifierState? _first;
    private ulong _payload;
    private byte _length;
    private Instant _time;
    private int _errors;
    private Instant _began;

    public void OnFrame(in CanFrame frame, IdentifierState identifier)
    {
        long limit = bus.NanosecondsPerBit > 0 ? (long)(300 * bus.NanosecondsPerBit) : 3_000_000;
        if (_first == identifier
            && frame.Time.Nanoseconds - _time.Nanoseconds <= limit
            && (frame.FirstEight != _payload || frame.Length != _length))
        {
            bool clean = _errors == FromCleanCounters;
            Subject subject = bus.Protocol.IsCanOpen && identifier.Node != 0 ? Subject.OfNode(identifier.Node) : Subject.OfId(identifier.Id);
            duplicate.Add(
                subject,
                DuplicateAddressDetector.Sign.Collisions,
                clean ? 0.9 : 0.4,
                _began,
                frame.Time,
                Text.Of($"{_errors} errors back to back, then two frames of {identifier.Id} with different content: {(clean ? "exactly what a collision of two senders with clean counters looks like" : "it may be a collision of two senders; their number can't tell")}."));
        }

        _first = null;
        if (bus.Errors.FramesSinceRun == 1 && bus.Errors.LastRun >= LeastErrors && frame.Time.Nanoseconds - bus.Errors.LastRunEnd.Nanoseconds <= limit)
        {
            _first = identifier;
            _payload = frame.FirstEight;
            _length = frame.Length;
            _time = frame.Time;
            _errors = bus.Errors.LastRun;
            _began = bus.Errors.RunStart;
        }
    }
}
