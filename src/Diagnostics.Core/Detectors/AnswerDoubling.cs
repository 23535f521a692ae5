using System.Buffers.Binary;
using Diagnostics.Can;
using Diagnostics.Core.Findings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Sign of two devices on one address: one SDO request gets two answers. Limit: twice with different content, or three times with the same.
/// Why: a lost acknowledge makes one sender repeat, so answers with an error message within 50 ms before don't count, nor do
/// block transfers, whose segments come without requests.
/// Lost frames: the second request may have been lost, so only requests after the last loss count.
/// </summary>
internal sealed class AnswerDoubling(Bus bus, DuplicateAddressDetector duplicate)
{
    private static readonly TimeSpan AnswerTime = TimeSpan.FromSeconds(1);
    private static readonly TimeSpan NearError = TimeSpan.FromMilliseconds(50);

    /// <summary>Single doublings further apart have nothing to do with each other.</summary>
    private static readonly TimeSpan Related = TimeSpan.FromHours(1);

    private readonly Instant[] _asked = Times();
    private readonly byte[] _answers = new byte[128];
    private readonly ulong[] _first = new ulong[128];
    private readonly bool[] _isBlock = new bool[128];
    private readonly int[] _different = new int[128];
    private readonly int[] _same = new int[128];
    private readonly Instant[] _firstSign = Times();
    private readonly Instant[] _lastSign = Times();

    public void OnRequest(Instant time, byte node, ReadOnlySpan<byte> data)
    {
        _asked[node] = time;
        _answers[node] = 0;

        // Client command specifiers 5 and 6 are block upload and download; between them anything with another specifier ends it.
        _isBlock[node] = data.Length > 0 && data[0] >> 5 is 5 or 6;
    }

    public void OnAnswer(Instant time, byte node, ReadOnlySpan<byte> data)
    {
        if (_asked[node] == Instant.MinValue || _asked[node] < bus.WholeSince || time - _asked[node] > AnswerTime || _isBlock[node])
        {
            return;
        }

        Span<byte> padded = stackalloc byte[8];
        padded.Clear();
        data[..Math.Min(8, data.Length)].CopyTo(padded);
        ulong content = BinaryPrimitives.ReadUInt64LittleEndian(padded);
        if (_answers[node] == 0)
        {
            _first[node] = content;
            _answers[node] = 1;
            return;
        }

        if (bus.Errors.LastError != Instant.MinValue && time - bus.Errors.LastError < NearError)
        {
            return;
        }

        _answers[node] = 2;
        if (_lastSign[node] != Instant.MinValue && time - _lastSign[node] > Related)
        {
            _different[node] = 0;
            _same[node] = 0;
            _firstSign[node] = Instant.MinValue;
        }

        _lastSign[node] = time;
        _firstSign[node] = _firstSign[node] == Instant.MinValue ? _asked[node] : _firstSign[node];
        bool differs = content != _first[node];
        int count = differs ? ++_different[node] : ++_same[node];
        if (count >= (differs ? 2 : 3))
        {
            duplicate.Add(
                Subject.OfNode(node),
                DuplicateAddressDetector.Sign.Answers,
                differs ? 0.95 : 0.9,
                _firstSign[node],
                time,
                Text.Of($"{count} requests to it got two answers each, {(differs ? "which contradict each other" : "of equal content")}."));
        }
    }

    private static Instant[] Times()
    {
        Instant[] times = new Instant[128];
        Array.Fill(times, Instant.MinValue);
        return times;
    }
}
