using Diagnostics.Can;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Sign of two devices on one address: the signature of a collision. Two senders that start one identifier at the same bit damage each other's frames until
/// both are error-passive; then both frames come, same identifier, different payload, with those between that were waiting, since an error-passive sender has to
/// let others go first. From clean counters that takes exactly 16 attempts
/// (TEC +8 each, passive at 128; ISO 11898-1), and then it is a strong sign. Any other number from 8 on says "cannot tell": earlier errors may have raised
/// the counters, or it was a disturbance, so it counts little.
/// A repeat because nobody acknowledges ends in equal frames and is no sign.
/// Lost frames: a frame lost in between would only hide the signature.
/// </summary>
internal sealed class CollisionSignature(Bus bus, DuplicateAddressDetector duplicate, ErrorBurstDetector bursts)
{
    private const int FromCleanCounters = 16;
    private const int LeastErrors = 8;

    /// <summary>From the last error to the first frame behind it.</summary>
    private const int AtOnceBits = 300;

    /// <summary>Until when both frames must have come: some ten frames' time.</summary>
    private const int WindowBits = 1200;
    private const int MostFrames = 12;

    private readonly (IdentifierState Identifier, ulong Payload, byte Length)[] _seen = new (IdentifierState, ulong, byte)[MostFrames];
    private int _count;
    private bool _isOpen;
    private long _windowEnd;
    private int _errors;
    private Instant _began;

    public void OnFrame(in CanFrame frame, IdentifierState identifier)
    {
        if (bus.Errors.FramesSinceRun == 1 && bus.Errors.LastRun >= LeastErrors)
        {
            double bit = bus.NanosecondsPerBit > 0 ? bus.NanosecondsPerBit : 10_000;
            _isOpen = frame.Time.Nanoseconds - bus.Errors.LastRunEnd.Nanoseconds <= AtOnceBits * bit;
            _windowEnd = bus.Errors.LastRunEnd.Nanoseconds + (long)(WindowBits * bit);
            _count = 0;
            _errors = bus.Errors.LastRun;
            _began = bus.Errors.RunStart;
        }

        if (!_isOpen)
        {
            return;
        }

        // Segments of a transfer follow each other that closely and differ by nature; so do a request by remote frame and its answer, which two devices
        // send, and two answers of which the first had to wait, as those to guarding, whose toggle bit alternates.
        bool isPair = identifier.WasAskedFor || (bus.Protocol.IsCanOpen && identifier.IsSdo);
        if (frame.Time.Nanoseconds > _windowEnd || _count == MostFrames || bus.Errors.Run > 0)
        {
            _isOpen = false;
            return;
        }

        if (isPair)
        {
            return;
        }

        for (int i = 0; i < _count; i++)
        {
            if (_seen[i].Identifier != identifier)
            {
                continue;
            }

            _isOpen = false;
            if (frame.FirstEight != _seen[i].Payload || frame.Length != _seen[i].Length)
            {
                bool clean = _errors == FromCleanCounters;
                Subject subject = bus.Protocol.IsCanOpen && identifier.Node != 0 ? Subject.OfNode(identifier.Node) : Subject.OfId(identifier.Id);
                bursts.OnCollision(subject, _began);
                if (bus.Node(identifier.Node) is { } node)
                {
                    node.Collisions++;
                }

                duplicate.Add(
                    subject,
                    DuplicateAddressDetector.Sign.Collisions,
                    clean ? 0.9 : 0.4,
                    _began,
                    frame.Time,
                    clean
                        ? Say($"{_errors} errors back to back, then two frames of {identifier.Id.ToString()} with different content: exactly what a collision of two senders with clean counters looks like.")
                        : Say($"{_errors} errors back to back, then two frames of {identifier.Id.ToString()} with different content: it may be a collision of two senders; their number can't tell."));
            }

            return;
        }

        _seen[_count++] = (identifier, frame.FirstEight, frame.Length);
    }
}
