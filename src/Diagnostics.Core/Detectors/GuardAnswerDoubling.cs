using System.Numerics;
using Diagnostics.Can;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Protocols.CanOpen;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Sign of two devices on one address: one guarding request (remote frame on 700h + address, CiA 301) gets two answers.
/// Limit: 12 of the last 16 requests with a second answer that contradicts the first, in its toggle bit or its state; or 40 of the last 64 with an equal one.
/// Why: a repeat of one answer is equal to it, and who has to repeat each is bus-off after 37 (<see cref="PhaseTracks.CloseHits"/>); a device that
/// guarding asks and that sends its heartbeat as well, which CiA 301 forbids, contradicts itself in each second answer at most, as only the toggle bit of its
/// answers alternates.
/// Each request in that row must have been answered, and nothing may have come unasked: late answers and such whose stamps were shuffled leave a request
/// without one. A repeat behind an error doesn't count.
/// Lost frames: only requests after the last loss count, and none where frames go missing unreported.
/// </summary>
internal sealed class GuardAnswerDoubling(Bus bus, DuplicateAddressDetector duplicate)
{
    private const int ContradictionsNeeded = 12;
    private const ulong ContradictionsAmong = 0xFFFF;

    private readonly Row[] _rows = new Row[128];

    /// <summary>Requests to one node that were all answered.</summary>
    private struct Row
    {
        public bool IsAsked;
        public Instant Asked;
        public int Answers;
        public byte Answer;
        public Instant Answered;
        public Instant FirstDoubled;

        /// <summary>One bit for each request, the latest lowest.</summary>
        public ulong Different;
        public ulong Same;
    }

    public void OnFrame(in CanFrame frame, IdentifierState identifier)
    {
        byte node = (byte)(frame.Id.Value & 0x7F);
        if (!identifier.IsErrorControl || node == 0)
        {
            return;
        }

        ref Row row = ref _rows[node];
        if (frame.IsRemote)
        {
            OnRequest(ref row, node, frame.Time);
        }
        else if (row.IsAsked)
        {
            OnAnswer(ref row, frame);
        }
    }

    private void OnRequest(ref Row row, byte node, Instant time)
    {
        if (row.IsAsked && row.Answers > 0 && row.Asked > bus.WholeSince && !bus.Loss.IsLosing)
        {
            Judge(row, node);
        }
        else
        {
            row = default;
        }

        row.IsAsked = true;
        row.Asked = time;
        row.Answers = 0;
        row.Different <<= 1;
        row.Same <<= 1;
    }

    private void OnAnswer(ref Row row, in CanFrame frame)
    {
        byte value = frame.Data[0];
        bool isBootUp = value == 0;
        if (frame.Length == 0 || isBootUp || frame.Time - row.Asked > CanOpenLimits.GuardAnswer)
        {
            row = default;
            return;
        }

        bool isRepeat = row.Answers > 0 && value == row.Answer && bus.Errors.LastError >= row.Answered;
        if (++row.Answers == 2 && !isRepeat)
        {
            row.FirstDoubled = (row.Different | row.Same) == 0 ? row.Answered : row.FirstDoubled;
            row.Different |= value != row.Answer ? 1UL : 0;
            row.Same |= value == row.Answer ? 1UL : 0;
        }

        row.Answer = row.Answers == 1 ? value : row.Answer;
        row.Answered = frame.Time;
    }

    private void Judge(in Row row, byte node)
    {
        int different = BitOperations.PopCount(row.Different & ContradictionsAmong);
        int same = BitOperations.PopCount(row.Same);
        bool differs = different >= ContradictionsNeeded;
        if (differs || same >= PhaseTracks.CloseHits)
        {
            duplicate.Add(
                Subject.OfNode(node),
                DuplicateAddressDetector.Sign.GuardAnswers,
                differs ? 0.95 : 0.9,
                row.FirstDoubled,
                row.Answered,
                differs
                    ? Say($"{different} of 16 guarding requests to it got two answers each, which contradict each other.")
                    : Say($"{same} of 64 guarding requests to it got two answers each, of equal content."));
        }
    }
}
