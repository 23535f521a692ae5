using System.Buffers.Binary;
using Diagnostics.Can;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Sign of two devices on one address: one SDO request gets two answers. Limit: twice with different content, or three times with the same.
/// Why: a lost acknowledge makes one sender repeat, so equal answers with an error message within 50 ms before don't count, nor do
/// block transfers, whose segments come without requests. An answer that comes only after the next request is one to the request before.
/// Where stamps are shuffled, an answer to the request before may follow this one, so no doubling counts until the conversation has rested for a second
/// and had more answers than requests; a shuffle changes their order, not their number.
/// Lost frames: the second request may have been lost, so only conversations after the last loss count, and none where frames go missing unreported.
/// </summary>
internal sealed class AnswerDoubling(Bus bus, DuplicateAddressDetector duplicate)
{
    private static readonly TimeSpan AnswerTime = TimeSpan.FromSeconds(1);
    private static readonly TimeSpan NearError = TimeSpan.FromMilliseconds(50);

    /// <summary>Single doublings further apart have nothing to do with each other.</summary>
    private static readonly TimeSpan Related = TimeSpan.FromHours(1);

    /// <summary>Specifier 7, which CiA 301 leaves free, so nothing answers it.</summary>
    private const ulong NoRequest = 0xFF;

    /// <summary>Abort code "SDO protocol timed out" (CiA 301).</summary>
    private const ulong TimedOut = 0x05040000;

    private readonly ulong[] _request = new ulong[128];
    private readonly byte[] _answers = new byte[128];
    private readonly ulong[] _first = new ulong[128];
    private readonly ulong[] _earlierRequest = new ulong[128];
    private readonly byte[] _earlierAnswers = new byte[128];
    private readonly ulong[] _earlierFirst = new ulong[128];
    private readonly bool[] _isBlock = new bool[128];
    private readonly Conversation[] _conversations = new Conversation[128];
    private readonly int[] _different = new int[128];
    private readonly int[] _same = new int[128];
    private readonly Instant[] _firstSign = PerNode.Never();
    private readonly Instant[] _lastSign = PerNode.Never();

    /// <summary>Requests and answers with less than <see cref="AnswerTime"/> between them.</summary>
    private struct Conversation
    {
        public bool IsOpen;
        public Instant Began;
        public Instant Last;
        public int Requests;
        public int Answers;
        public int Different;
        public int Same;
    }

    public void OnRequest(Instant time, byte node, ReadOnlySpan<byte> data)
    {
        ref Conversation conversation = ref _conversations[node];
        if (conversation.IsOpen && time - conversation.Last > AnswerTime)
        {
            Settle(node);
        }

        if (!conversation.IsOpen)
        {
            conversation = new() { IsOpen = true, Began = time };
            _request[node] = NoRequest;
        }

        conversation.Requests++;
        conversation.Last = time;
        _earlierRequest[node] = _request[node];
        _earlierAnswers[node] = _answers[node];
        _earlierFirst[node] = _first[node];
        _answers[node] = 0;
        _request[node] = Padded(data);

        // Client command specifiers 5 and 6 are block upload and download; between them anything with another specifier ends it.
        _isBlock[node] = data.Length > 0 && data[0] >> 5 is 5 or 6;
    }

    public void OnAnswer(Instant time, byte node, ReadOnlySpan<byte> data)
    {
        ref Conversation conversation = ref _conversations[node];
        if (!conversation.IsOpen || time - conversation.Last > AnswerTime || _isBlock[node])
        {
            return;
        }

        // A transfer that its client left open: the server gives up in its own time, and answers nothing by that.
        ulong content = Padded(data);
        if (content >> 32 == TimedOut && (content & 0xFF) == 0x80)
        {
            return;
        }

        conversation.Answers++;
        conversation.Last = time;
        if (Answers(content, _request[node]))
        {
            Take(ref conversation, time, content, ref _first[node], ref _answers[node]);
        }
        else if (Answers(content, _earlierRequest[node]))
        {
            Take(ref conversation, time, content, ref _earlierFirst[node], ref _earlierAnswers[node]);
        }
    }

    private void Take(ref Conversation conversation, Instant time, ulong content, ref ulong first, ref byte answers)
    {
        if (answers == 0)
        {
            first = content;
            answers = 1;
        }
        else if (content != first)
        {
            answers = 2;
            conversation.Different++;
        }
        else if (bus.Errors.LastError == Instant.MinValue || time - bus.Errors.LastError >= NearError)
        {
            answers = 2;
            conversation.Same++;
        }
    }

    public void OnSecond(Instant now)
    {
        for (byte node = 1; node < _conversations.Length; node++)
        {
            if (_conversations[node].IsOpen && now - _conversations[node].Last > AnswerTime)
            {
                Settle(node);
            }
        }
    }

    private void Settle(byte node)
    {
        Conversation conversation = _conversations[node];
        _conversations[node] = default;
        int excess = conversation.Answers - conversation.Requests;
        int different = Math.Min(conversation.Different, excess);
        int same = Math.Min(conversation.Same, excess - different);
        if (excess <= 0 || different + same == 0 || conversation.Began < bus.WholeSince || bus.Loss.IsLosing)
        {
            return;
        }

        if (_lastSign[node] != Instant.MinValue && conversation.Last - _lastSign[node] > Related)
        {
            _different[node] = 0;
            _same[node] = 0;
            _firstSign[node] = Instant.MinValue;
        }

        _lastSign[node] = conversation.Last;
        _firstSign[node] = _firstSign[node] == Instant.MinValue ? conversation.Began : _firstSign[node];
        _different[node] += different;
        _same[node] += same;
        bool differs = _different[node] >= 2;
        if (differs || _same[node] >= 3)
        {
            duplicate.Add(
                Subject.OfNode(node),
                DuplicateAddressDetector.Sign.Answers,
                differs ? 0.95 : 0.9,
                _firstSign[node],
                conversation.Last,
                differs
                    ? Say($"{_different[node]} requests to it got two answers each, which contradict each other.")
                    : Say($"{_same[node]} requests to it got two answers each, of equal content."));
        }
    }

    /// <summary>
    /// Whether this is an answer to that request: an initiate answer or an abort names the same object, a segment carries the same toggle bit (CiA 301).
    /// Where frames were lost unnoticed, answers to requests that we never heard would otherwise pass for second answers.
    /// </summary>
    private static bool Answers(ulong answer, ulong request)
    {
        const ulong Multiplexer = 0xFFFFFF00;
        const ulong Toggle = 0x10;
        int server = (int)(answer & 0xFF) >> 5;
        bool sameObject = (answer & Multiplexer) == (request & Multiplexer);
        bool sameToggle = (answer & Toggle) == (request & Toggle);
        return ((int)(request & 0xFF) >> 5) switch
        {
            0 => server == 1 && sameToggle,
            1 => server is 3 or 4 && sameObject,
            2 => server is 2 or 4 && sameObject,
            3 => server == 0 && sameToggle,
            _ => false,
        };
    }

    private static ulong Padded(ReadOnlySpan<byte> data)
    {
        Span<byte> padded = stackalloc byte[8];
        padded.Clear();
        data[..Math.Min(8, data.Length)].CopyTo(padded);
        return BinaryPrimitives.ReadUInt64LittleEndian(padded);
    }
}
