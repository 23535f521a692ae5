using System.Globalization;

namespace Diagnostics.Can.Traces;

/// <summary>What all formats share: the way to the sink, and the book of what could not be read.</summary>
internal sealed class TraceOutput(IFrameSink sink, TraceInterfaces interfaces)
{
    private readonly long[] _damage = new long[Enum.GetValues<TraceDamage>().Length];
    private readonly List<FormattableString> _remarks = [];
    private Instant _last;
    private bool _heard;
    private long _damaged;
    private TraceDamage _firstDamage;
    private long _firstPlace;

    /// <summary>What <c>place</c> counts: "byte" or "line".</summary>
    public string PlaceUnit { get; set; } = "byte";

    public TraceError? Error { get; private set; }

    public long Frames { get; private set; }

    public long ErrorMessages { get; private set; }

    public long DamagedRecords { get; private set; }

    public IReadOnlyList<FormattableString> Remarks => _remarks;

    public Instant? First { get; private set; }

    public Instant Last => _last;

    public long DamageCount(TraceDamage reason) => _damage[(int)reason];

    public void Frame(in CanFrame frame)
    {
        if (_damaged != 0)
        {
            TellDamage(frame.Time);
        }

        if (frame.IsError)
        {
            ErrorMessages++;
        }
        else
        {
            Frames++;
        }

        _last = frame.Time;
        if (!_heard)
        {
            _heard = true;
            First = frame.Time;
        }

        sink.OnFrame(in frame);
    }

    public void Damaged(TraceDamage reason, long place)
    {
        _damage[(int)reason]++;
        DamagedRecords++;
        if (_damaged++ == 0)
        {
            _firstDamage = reason;
            _firstPlace = place;
        }
    }

    public void Dropped(byte index, Instant start, Instant end, long count)
    {
        Instant from = Instant.Min(start, end);
        string name = interfaces.Name(index);
        NotSeen notSeen = count == 1
            ? NotSeen.Because(NotSeenKind.KernelDropped, index, from, end, count, $"The trace itself says that {count} frame of {name} was dropped while it was recorded.")
            : NotSeen.Because(NotSeenKind.KernelDropped, index, from, end, count, $"The trace itself says that {count} frames of {name} were dropped while it was recorded.");
        sink.OnNotSeen(in notSeen);
    }

    public void BrokenOff(long place)
    {
        NotSeen notSeen = NotSeen.Because(NotSeenKind.BrokenOff, NotSeen.AllInterfaces, _last, _last, 0, $"The trace ends in the middle of a record ({PlaceUnit} {place}).");
        sink.OnNotSeen(in notSeen);
    }

    public void Remark(FormattableString text)
    {
        if (_remarks.Count < TraceLimits.Remarks && !_remarks.Exists(known => FormattableString.Invariant(known) == FormattableString.Invariant(text)))
        {
            _remarks.Add(text);
        }
    }

    public void Fail(TraceProblem problem, long place, string what)
    {
        string where = string.Create(CultureInfo.InvariantCulture, $"{PlaceUnit} {place}");
        Error ??= new(problem, where, where + ": " + what);
    }

    /// <summary>Announces the interface where it is new. False at the limit.</summary>
    public bool TryInterface(string name, out byte index, int? bitRate = null)
    {
        if (!interfaces.TryIndexOf(name, out index, out bool isNew))
        {
            return false;
        }

        if (isNew)
        {
            sink.OnInterface(index, new(name) { BitRate = bitRate });
        }

        return true;
    }

    public string InterfaceName(byte index) => interfaces.Name(index);

    /// <summary>Damage behind the last frame has no frame that would tell it.</summary>
    public void Complete()
    {
        if (_damaged != 0)
        {
            TellDamage(_last);
        }
    }

    private void TellDamage(Instant next)
    {
        NotSeen notSeen = new(NotSeenKind.DamagedRecords, NotSeen.AllInterfaces, _heard ? Instant.Min(_last, next) : next, next, _damaged,
            string.Create(CultureInfo.InvariantCulture, $"{Plural(_damaged, "record")} could not be read, from {PlaceUnit} {_firstPlace} on: {Text(_firstDamage)}."));
        _damaged = 0;
        sink.OnNotSeen(in notSeen);
    }

    private static string Plural(long count, string noun) =>
        count.ToString(CultureInfo.InvariantCulture) + " " + noun + (count == 1 ? "" : "s");

    private static string Text(TraceDamage reason) => reason switch
    {
        TraceDamage.Length => "a length that can't be",
        TraceDamage.LengthsDiffer => "the two lengths of a block differ",
        TraceDamage.BlockTooShort => "a block too short for its type",
        TraceDamage.UnknownInterface => "an interface that the trace hasn't described",
        TraceDamage.InterfaceLimit => "too many interfaces",
        TraceDamage.NoTimeStamp => "no time stamp",
        TraceDamage.TimeStamp => "an impossible time stamp",
        TraceDamage.Options => "options that overrun their block",
        TraceDamage.RecordTooShort => "fewer bytes than the frame has",
        TraceDamage.PayloadLength => "a payload length that no such frame has",
        TraceDamage.Identifier => "an impossible identifier",
        TraceDamage.UnsupportedFrame => "a kind of frame that isn't analysed (CAN XL)",
        TraceDamage.LineSyntax => "no frame in the line",
        TraceDamage.LineTooLong => "a line too long",
        _ => "damaged",
    };
}
