using Diagnostics.Can;

namespace Diagnostics.Core.Counting;

/// <summary>Everything kept about one identifier on one interface.</summary>
internal sealed class IdentifierState(CanId id)
{
    /// <summary>By then a slow bus has sent what a SYNC asked everybody for: 20 frames of 5 ms.</summary>
    public const long BehindSyncNanoseconds = 100_000_000;

    public CanId Id { get; } = id;

    /// <summary>On a CANopen bus: SDO, answer or request, by the predefined identifiers of CiA 301.</summary>
    public bool IsSdo { get; } = !id.IsExtended && id.Value >> 7 is 11 or 12;

    /// <summary>On a CANopen bus: boot-up, heartbeat or guarding, by the predefined identifiers of CiA 301.</summary>
    public bool IsErrorControl { get; } = !id.IsExtended && id.Value >> 7 == 14;

    /// <summary>On a CANopen bus: emergency messages, by the predefined identifiers of CiA 301.</summary>
    public bool IsEmergency { get; } = !id.IsExtended && id.Value is > 0x080 and <= 0x0FF;

    public long Frames { get; set; }

    public double Bits { get; set; }

    public Instant FirstHeard { get; set; }

    public Instant LastHeard { get; set; } = Instant.MinValue;

    /// <summary>Address of the node that sends it, 0 where unknown.</summary>
    public byte Node { get; set; }

    public Cycle Cycle { get; } = new();

    /// <summary>Of its beats, or of its answers to guarding: how many never came.</summary>
    public BeatRecord Beats { get; } = new();

    /// <summary>Two senders show here as two phases.</summary>
    public PhaseTracks Tracks { get; } = new();

    private bool _hasNews;
    private (Instant Time, bool IsBehindError, bool IsQueued) _news;

    /// <summary>The latest news was no longer true in the next frame.</summary>
    private bool _contradicts;

    /// <summary>
    /// A frame for <see cref="Tracks"/>. News that the next frame repeats was sent because something changed, by the clock of whatever changed (a second phase that
    /// proves no second sender); two senders that don't agree contradict each other again and again. So news waits for the next frame.
    /// </summary>
    public void Arrive(Instant time, bool isBehindError, bool isQueued, bool isRepeat)
    {
        if (isRepeat)
        {
            _hasNews = false;
            _contradicts = false;
        }
        else if (_hasNews)
        {
            Tracks.Add(_news.Time, _news.IsBehindError, _news.IsQueued);
            _hasNews = false;
            _contradicts = true;
        }
        else if (!_contradicts && !IsErrorControl && Frames > 1)
        {
            _hasNews = true;
            _news = (time, isBehindError, isQueued);
            return;
        }

        Tracks.Add(time, isBehindError, isQueued);
    }

    public void ForgetArrival()
    {
        _hasNews = false;
        Tracks.OnLoss();
    }

    /// <summary>It was asked for by a remote frame: another device may set its pace.</summary>
    public bool WasAskedFor { get; set; }

    /// <summary>How many of its frames came within <see cref="BehindSyncNanoseconds"/>.</summary>
    public long FramesBehindSync { get; set; }

    /// <summary>How many of its frames came right behind a command to the node that sends them (<see cref="NodeState.AnswerTime"/>).</summary>
    public long FramesBehindCommand { get; set; }

    /// <summary>It mostly confirms commands: when it comes is up to whoever gives them, so its pauses say nothing about its sender.</summary>
    public bool IsAnswer => FramesBehindCommand > 0 && FramesBehindCommand * 4 >= Frames * 3;

    /// <summary>An identifier must have kept its rhythm this long before its silence means anything.</summary>
    public static readonly TimeSpan Habit = TimeSpan.FromMinutes(1);

    /// <summary>Frames in bursts are regular too; a cyclic sender fills its time with its period, unless it was away.</summary>
    private const double LeastCyclicShare = 0.75;

    /// <summary>Then all is halved, so that what was long ago weighs less.</summary>
    private const int HabitFrames = 1024;

    private long _habitNanoseconds;
    private int _habitFrames;
    private int _changeFrames;

    /// <summary>One gap in which nothing is known that kept its sender from sending or us from hearing, and the frame at its end.</summary>
    public void CountHabit(long gapNanoseconds, bool tellsChange)
    {
        _habitNanoseconds += gapNanoseconds;
        _changeFrames += tellsChange ? 1 : 0;
        if (++_habitFrames == HabitFrames)
        {
            _habitNanoseconds /= 2;
            _habitFrames /= 2;
            _changeFrames /= 2;
        }
    }

    /// <summary>Its sender was told to send in another way.</summary>
    public void ForgetHabit()
    {
        Cycle.Reset();
        Tracks.Reset();
        (_habitNanoseconds, _habitFrames, _changeFrames) = (0, 0, 0);
    }

    /// <summary>
    /// Its sender's clock makes it come, so that its silence tells of its sender. What comes while somebody dims, holds a button or passes a sensor is regular,
    /// too, and ends with that; and what nearly always tells of a change (a meter's pulse) has the rhythm of what changes.
    /// </summary>
    public bool IsByClock =>
        Cycle.Rhythm != Rhythm.None
        && _habitNanoseconds >= Habit.TotalNanoseconds
        && _habitFrames * Cycle.PeriodSeconds >= LeastCyclicShare * _habitNanoseconds / 1e9
        && _changeFrames * 5 <= _habitFrames * 4;

    // Length of the frame heard last: heartbeats and SYNC repeat, and counting stuff bits again would be waste.
    public ulong LastPayload { get; set; }

    public byte LastLength { get; set; } = byte.MaxValue;

    public double LastBits { get; set; }

    /// <summary>Frames since the last whole second, and in it.</summary>
    public int FramesThisSecond { get; set; }

    public int FramesLastSecond { get; set; }

    public double BitsThisSecond { get; set; }

    public double BitsLastSecond { get; set; }

    /// <summary>Most frames in any ordinary second so far: the habit that a flood is measured against.</summary>
    public int BusiestHabitSecond { get; set; }

    public void OnSecond()
    {
        FramesLastSecond = FramesThisSecond;
        BitsLastSecond = BitsThisSecond;
        FramesThisSecond = 0;
        BitsThisSecond = 0;
    }
}
