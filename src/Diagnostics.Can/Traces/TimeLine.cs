using System.Globalization;

namespace Diagnostics.Can.Traces;

/// <summary>
/// Stands between a trace and its consumer and makes one line of time that never runs backwards.
/// </summary>
/// <remarks>
/// <list type="bullet">
/// <item>Frames out of order by up to 1 s of their stamps are sorted; equal stamps keep their order.</item>
/// <item>A larger step back is a step of the clock: the first frame behind it comes right after the last one before it, and the line goes on from there.</item>
/// <item>Stamps that leap away for up to three frames and are then back where they belong are wrong stamps: those frames get the time of their predecessor.</item>
/// <item>A leap forward by more than 5 s is a step of the clock, and taken out of the line, where the identifiers that came regularly go on in the phase
/// that they would have had with no leap at all: a bus that was silent starts in other phases. All must agree (three at least, or two where there
/// are only two), or three quarters of five and more where the others came early, as a change may send them. It is a step as well where
/// the clock had never been set (before the year 2000) and then was, or where it takes back a step back.</item>
/// <item>It was silence, and stays, where a node says behind it that it has just started (phases prove nothing then), where of three regular identifiers or more
/// at most half agree, where nobody was overdue, or where nothing is regular and it lasts less than ten minutes. Frames that were lost explain it, too.</item>
/// <item>Any other leap can't be told: it stays, and is told as time of which nobody knows how long it was (<see cref="NotSeenKind.StepOrSilence"/>), so that no silence is laid to anybody.
/// A silence whose length is a common multiple of all periods can't be told from a step by that length either, but passes for one.</item>
/// <item>Between two files (<see cref="EndFile"/>) a leap forward by more than 1 s is time in which nothing was recorded, whatever the phases are: it stays, and is
/// told as <see cref="NotSeenKind.NotRecorded"/>. Files of a recorder that began the next without a pause follow each other more closely.</item>
/// </list>
/// Every step is told as <see cref="NotSeenKind.ClockStep"/>. Why these limits: 1 s is what receive queues and several interfaces shuffle, with much
/// to spare; up to 5 s a wrong guess costs less than a wrong correction. An identifier agrees by chance once in ten times (5 % of its period to
/// both sides), so three that all agree, or four of five, do so once in a hundred silences. In memory are one second of frames, and behind a leap
/// what it takes to hear each regular identifier once (periods up to 30 s); never more than 64k frames each.
/// </remarks>
public sealed class TimeLine : IFrameSink
{
    private const long Second = 1_000_000_000;
    private const long LongestUnjudgedLeap = 5 * Second;
    private const int MostWrongStamps = 3;
    private const int MostFrames = 64 * 1024;
    private const int MostUntold = 1024;
    /// <summary>2000-01-01: a clock that shows less was never set.</summary>
    private const long NeverSetBefore = 946_684_800 * Second;

    /// <summary>Stamps beyond are cut, so that the line can't overflow: about the years 1933 and 2116.</summary>
    private const long LowestStamp = -(1L << 60);
    private const long HighestStamp = (1L << 62) - 1;

    private readonly IFrameSink _next;
    private readonly CycleBook _cycles = new();
    private readonly LeapJudge _judge;
    private readonly FrameQueue _inOrder = new();
    private readonly PriorityQueue<CanFrame, (long Time, long Number)> _late = new();
    private readonly FrameQueue _again = new();
    private readonly List<CanFrame> _held = [];
    private readonly Queue<NotSeen> _untold = [];
    private readonly List<(NotSeen NotSeen, long Offset)> _heldUntold = [];
    private Leap _leap;
    private bool _started;
    private long _newest;
    private long _offset;
    private long? _offsetBeforeStep;
    private long _heldFirst;
    private long _lostUntil = long.MinValue;
    private bool _judging;
    private long _lateNumber;
    private long _accepted;
    private long _lastOut = long.MinValue;

    public TimeLine(IFrameSink next)
    {
        _next = next;
        _judge = new(_cycles);
    }

    private enum Leap
    {
        None,
        Forward,
        Back,

        /// <summary>A file has ended, and no frame of the next has come yet.</summary>
        File,
    }

    public void OnInterface(byte index, InterfaceFacts facts) => _next.OnInterface(index, facts);

    public void OnFrame(in CanFrame frame)
    {
        long stamp = frame.Time.Nanoseconds;
        long time = unchecked(stamp + _offset);
        if (_started && _leap == Leap.None && stamp is >= LowestStamp and <= HighestStamp && (ulong)(time - _newest) <= Second && time <= HighestStamp)
        {
            AcceptInOrder(in frame, time);
            return;
        }

        _again.Append(in frame, Math.Clamp(stamp, LowestStamp, HighestStamp));
        WorkOff();
    }

    public void OnNotSeen(in NotSeen notSeen)
    {
        if (_leap is Leap.Forward or Leap.Back)
        {
            if (_heldUntold.Count < MostUntold)
            {
                _heldUntold.Add((notSeen, _offset));
                return;
            }

            // Rather a decision with what there is than anything unsaid.
            Decide();
            WorkOff();
        }

        Instant end = Line(notSeen.End, _offset);
        _lostUntil = Math.Max(_lostUntil, end.Nanoseconds);
        Tell(notSeen with { Start = Line(notSeen.Start, _offset), End = end });
    }

    /// <summary>A file ends, and another may follow.</summary>
    public void EndFile()
    {
        DecideAll();
        _leap = _started ? Leap.File : Leap.None;
    }

    /// <summary>Nothing follows: lets everything go.</summary>
    public void Complete()
    {
        DecideAll();
        Release(long.MaxValue);
        while (_untold.TryDequeue(out NotSeen notSeen))
        {
            _next.OnNotSeen(in notSeen);
        }
    }

    private void DecideAll()
    {
        while (_leap != Leap.None)
        {
            Decide();
            WorkOff();
        }
    }

    private void WorkOff()
    {
        while (_again.Count > 0)
        {
            CanFrame frame = _again.First;
            _again.RemoveFirst();
            TellHeld(frame.Time);
            Take(in frame);
        }

        TellHeld(new(long.MaxValue));
    }

    /// <summary>What was lost before a frame is told before that frame, or its silence would be laid to somebody.</summary>
    private void TellHeld(Instant until)
    {
        if (_leap != Leap.None)
        {
            return;
        }

        int told = 0;
        for (; told < _heldUntold.Count && _heldUntold[told].NotSeen.End <= until; told++)
        {
            (NotSeen notSeen, long offset) = _heldUntold[told];
            Instant end = Line(notSeen.End, _offset);
            Tell(notSeen with { Start = Instant.Min(end, Line(notSeen.Start, offset)), End = end });
        }

        _heldUntold.RemoveRange(0, told);
    }

    private void Take(in CanFrame frame)
    {
        long time = OnLine(frame.Time.Nanoseconds, _offset);
        if (!_started)
        {
            _started = true;
            _newest = time;
        }

        switch (_leap)
        {
            case Leap.Forward:
                TakeBehindForwardLeap(in frame, time);
                break;
            case Leap.Back:
                TakeBehindStepBack(in frame, time);
                break;
            case Leap.File:
                TakeFirstOfFile(in frame, time);
                break;
            default:
                if (time > _newest + Second || time < _newest - Second)
                {
                    _leap = time > _newest ? Leap.Forward : Leap.Back;
                    _judging = false;
                    _heldFirst = time;
                    _held.Add(frame);
                }
                else if (time >= _newest)
                {
                    AcceptInOrder(in frame, time);
                }
                else
                {
                    AcceptLate(in frame, time);
                }

                break;
        }
    }

    private void TakeFirstOfFile(in CanFrame frame, long time)
    {
        _leap = Leap.None;
        if (time > _newest + Second)
        {
            Tell(NotSeen.Because(NotSeenKind.NotRecorded, NotSeen.AllInterfaces, new(_newest), new(time), 0, $"Between two files nothing was recorded, for {Words(time - _newest)}."));
            _lostUntil = time;
            _cycles.Interrupt();
            _newest = time;
        }

        Take(in frame);
    }

    private void TakeBehindForwardLeap(in CanFrame frame, long time)
    {
        if (time < _heldFirst - Second)
        {
            // Whatever is decided, this frame comes behind those that were held.
            _again.PutFirst(in frame);
            if (time >= _newest - Second && _held.Count <= MostWrongStamps)
            {
                AcceptWrongStamps(_heldFirst - _newest);
            }
            else
            {
                // The leap stays; what steps back from there is judged next.
                KeepLeap();
            }

            return;
        }

        _held.Add(frame);
        if (_heldFirst - _newest <= LongestUnjudgedLeap)
        {
            DecideForwardLeap();
            return;
        }

        Judge(in frame, time);
    }

    private void TakeBehindStepBack(in CanFrame frame, long time)
    {
        if (time >= _newest - Second && time > _heldFirst + Second)
        {
            _again.PutFirst(in frame);
            AcceptWrongStamps(_heldFirst - _newest);
            return;
        }

        _held.Add(frame);
        if (_held.Count > MostWrongStamps)
        {
            ContinueBehindStepBack();
        }
    }

    /// <summary>A leap by more than 5 s that more than one frame shares: whether what was regular goes on as if there had been none.</summary>
    private void Judge(in CanFrame frame, long time)
    {
        if (!_judging)
        {
            BeginJudging();
            if (ReturnsToLineBeforeStep() || !_judge.IsInDoubt)
            {
                DecideForwardLeap();
                return;
            }
        }

        _judge.Hear(in frame, time);
        if (_judge.IsDecided || _held.Count >= MostFrames)
        {
            DecideForwardLeap();
        }
    }

    private void BeginJudging()
    {
        _judging = true;
        _judge.Begin(_newest, _held[0], _heldFirst);
    }

    private bool ReturnsToLineBeforeStep() =>
        _offsetBeforeStep is long before && _held[0].Time.Nanoseconds + before - _newest is >= -Second and <= LongestUnjudgedLeap;

    private void Decide()
    {
        switch (_leap)
        {
            case Leap.Forward:
                DecideForwardLeap();
                break;
            case Leap.Back:
                ContinueBehindStepBack();
                break;
            default:
                _leap = Leap.None;
                break;
        }
    }

    private void DecideForwardLeap()
    {
        long leap = _heldFirst - _newest;
        if (leap <= LongestUnjudgedLeap || _held.Count < 2 || _heldFirst == HighestStamp)
        {
            KeepLeap();
            return;
        }

        if (ReturnsToLineBeforeStep())
        {
            TakeLeapOut(Math.Min(leap, _offset - _offsetBeforeStep!.Value));
            _cycles.Interrupt();
            _offsetBeforeStep = null;
            return;
        }

        if (!_judging)
        {
            BeginJudging();
        }

        (LeapVerdict verdict, long step) = _judge.Decide();
        if (verdict == LeapVerdict.Step)
        {
            TakeLeapOut(step);
            return;
        }

        if (_newest - _offset < NeverSetBefore && _held[0].Time.Nanoseconds >= NeverSetBefore)
        {
            if (_accepted <= MostWrongStamps && _lastOut == long.MinValue)
            {
                StartAgain();
            }
            else
            {
                TakeLeapOut(leap - 1);
                _cycles.Interrupt();
            }

            return;
        }

        if (verdict == LeapVerdict.Doubt && _lostUntil <= _newest)
        {
            Tell(NotSeen.Because(NotSeenKind.StepOrSilence, NotSeen.AllInterfaces, new(_newest), new(_heldFirst), 0,
                $"The clock of the source stepped forward, or the bus was silent, for {Words(leap)}: too little is regular here to tell which."));
        }

        KeepLeap(isKnown: !_judge.IsInDoubt);
    }

    /// <summary>The line begins with a few frames of a clock that wasn't set: they get the time of the first good one.</summary>
    private void StartAgain()
    {
        TellStep(_heldFirst, _heldFirst, _accepted, $"The clock of the source was not set when the trace began, by {Words(_heldFirst - _newest)}.");
        _inOrder.SetAllTimes(new(_heldFirst));
        int late = _late.Count;
        for (int index = 0; index < late; index++)
        {
            CanFrame frame = _late.Dequeue();
            _inOrder.Append(in frame, _heldFirst);
        }

        KeepLeap();
    }

    private void TakeLeapOut(long step)
    {
        if (step < Second || _offset < -HighestStamp)
        {
            KeepLeap();
            return;
        }

        long first = _heldFirst - step;
        _offset -= step;
        TellStep(_newest, Math.Max(_newest, first), 0, $"The clock of the source stepped forward, by {Words(step)}.");
        PutHeldAgain();
    }

    private void ContinueBehindStepBack()
    {
        long next = Math.Min(_newest + 1, HighestStamp);
        TellStep(_newest, next, 0, $"The clock of the source stepped back, by {Words(_newest - _heldFirst)}.");
        _offsetBeforeStep = _offset;
        _offset = next - _held[0].Time.Nanoseconds;
        _cycles.Interrupt();
        PutHeldAgain();
    }

    /// <param name="isKnown">That so much time passed: the gaps across it may be judged.</param>
    private void KeepLeap(bool isKnown = false)
    {
        if (_heldFirst - _newest > LongestUnjudgedLeap && !isKnown)
        {
            _cycles.Interrupt();
        }

        _newest = Math.Max(_newest, _heldFirst);
        PutHeldAgain();
    }

    private void AcceptWrongStamps(long size)
    {
        string by = Words(Math.Abs(size));
        TellStep(_newest, _newest, _held.Count, (size > 0, _held.Count == 1) switch
        {
            (true, true) => (FormattableString)$"The clock of the source leapt forward for {_held.Count} frame, by {by}.",
            (true, _) => $"The clock of the source leapt forward for {_held.Count} frames, by {by}.",
            (_, true) => $"The clock of the source leapt back for {_held.Count} frame, by {by}.",
            _ => $"The clock of the source leapt back for {_held.Count} frames, by {by}.",
        });
        foreach (CanFrame held in _held)
        {
            _cycles.Forget(in held);
            _accepted++;
            _inOrder.Append(in held, _newest);
        }

        _held.Clear();
        _leap = Leap.None;
    }

    private void PutHeldAgain()
    {
        for (int index = _held.Count - 1; index >= 0; index--)
        {
            _again.PutFirst(_held[index]);
        }

        _held.Clear();
        _leap = Leap.None;
    }

    private void AcceptInOrder(in CanFrame frame, long time)
    {
        _newest = time;
        _accepted++;
        _cycles.Learn(in frame, time);
        _inOrder.Append(in frame, time);
        Release(time - Second);
    }

    private void AcceptLate(in CanFrame frame, long time)
    {
        _accepted++;
        _cycles.Learn(in frame, time);
        CanFrame moved = frame;
        moved.Time = new(time);
        _late.Enqueue(moved, (time, _lateNumber++));
        Release(_newest - Second);
    }

    private void Release(long before)
    {
        while (_inOrder.Count > 0 && (_inOrder.First.Time.Nanoseconds < before || _inOrder.Count + _late.Count > MostFrames))
        {
            if (_late.Count > 0 && _late.Peek().Time.Nanoseconds < _inOrder.First.Time.Nanoseconds)
            {
                CanFrame late = _late.Dequeue();
                Out(ref late);
                continue;
            }

            Out(ref _inOrder.First);
            _inOrder.RemoveFirst();
        }

        while (_late.Count > 0 && (_late.Peek().Time.Nanoseconds < before || _late.Count > MostFrames)
            && (_inOrder.Count == 0 || _late.Peek().Time < _inOrder.First.Time))
        {
            CanFrame late = _late.Dequeue();
            Out(ref late);
        }
    }

    private void Out(ref CanFrame frame)
    {
        if (frame.Time.Nanoseconds < _lastOut)
        {
            // Only where more frames came within a second than are kept.
            frame.Time = new(_lastOut);
        }

        _lastOut = frame.Time.Nanoseconds;
        while (_untold.Count > 0 && IsOver(_untold.Peek(), frame.Time))
        {
            NotSeen notSeen = _untold.Dequeue();
            _next.OnNotSeen(in notSeen);
        }

        _next.OnFrame(in frame);
    }

    /// <summary>A trace breaks off behind its last frame.</summary>
    private static bool IsOver(in NotSeen notSeen, Instant now) => notSeen.Kind == NotSeenKind.BrokenOff ? notSeen.End < now : notSeen.End <= now;

    private void Tell(NotSeen notSeen)
    {
        if (_untold.Count >= MostUntold)
        {
            NotSeen oldest = _untold.Dequeue();
            _next.OnNotSeen(in oldest);
        }

        _untold.Enqueue(notSeen);
    }

    private void TellStep(long start, long end, long count, FormattableString why) => Tell(NotSeen.Because(NotSeenKind.ClockStep, NotSeen.AllInterfaces, new(start), new(end), count, why));

    private static Instant Line(Instant stamp, long offset) =>
        new(OnLine(Math.Clamp(stamp.Nanoseconds, LowestStamp, HighestStamp), offset));

    private static long OnLine(long stamp, long offset) =>
        (long)Int128.Clamp((Int128)stamp + offset, 2 * LowestStamp, HighestStamp);

    /// <summary>A length of time as a person says it: the two largest units that fit.</summary>
    internal static string Words(long nanoseconds)
    {
        const int SecondsPerMinute = 60;
        const int SecondsPerHour = 3600;
        const int SecondsPerDay = 86_400;
        double seconds = nanoseconds / 1e9;
        long whole = (long)Math.Round(seconds);
        return whole switch
        {
            < SecondsPerMinute => seconds.ToString("0.###", CultureInfo.InvariantCulture) + " s",
            < SecondsPerHour => Two(whole, SecondsPerMinute, 1, "min", "s"),
            < SecondsPerDay => Two(whole, SecondsPerHour, SecondsPerMinute, "h", "min"),
            _ => Two(whole, SecondsPerDay, SecondsPerHour, whole / SecondsPerDay == 1 ? "day" : "days", "h"),
        };
    }

    private static string Two(long seconds, int large, int small, string largeName, string smallName)
    {
        string text = (seconds / large).ToString(CultureInfo.InvariantCulture) + " " + largeName;
        long rest = seconds % large / small;
        return rest == 0 ? text : text + " " + rest.ToString(CultureInfo.InvariantCulture) + " " + smallName;
    }
}
