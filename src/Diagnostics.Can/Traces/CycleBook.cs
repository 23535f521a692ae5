using System.Runtime.CompilerServices;

namespace Diagnostics.Can.Traces;

/// <summary>An identifier that comes regularly: when it is due next on the line, and how far off that may be.</summary>
internal readonly record struct Cycle(ulong Key, long Due, long Tolerance);

/// <summary>
/// Learns which identifiers of which interface come at a steady pace, so that a leap of the stamps can be told from silence of the bus.
/// A gap is regular when it differs from the mean of those before by at most 5 % and 2 ms: the jitter that arbitration and a busy sender cause.
/// </summary>
internal sealed class CycleBook
{
    /// <summary>Fewer gaps may look regular by chance.</summary>
    private const int RegularGapsNeeded = 8;

    private const long Millisecond = 1_000_000;

    /// <summary>Below it the tolerance would be near half the period and any phase would fit.</summary>
    private const long ShortestPeriod = 5 * Millisecond;

    /// <summary>
    /// Slower ones would need frames to be held back for longer than memory should be asked for. A slow bus of few nodes has nothing but heartbeats every ten
    /// or twenty seconds.
    /// </summary>
    private const long LongestPeriod = 30_000 * Millisecond;

    /// <summary>Extended identifiers watched; what comes beyond isn't learned, which costs only recognition of forward steps.</summary>
    private const int MostExtended = 4096;

    private const int Slots = MostExtended * 2;
    private const int Averaging = 8;

    /// <summary>
    /// A timer is regular but for the changes that send it early. One change takes back as much as three regular gaps earn, so that a few leave the pace known and
    /// an identifier that mostly sends on change never gets one; and no more can be earned than three changes in a row take away.
    /// </summary>
    private const int CostOfOneOff = 3;
    private const int MostRegular = RegularGapsNeeded + (2 * CostOfOneOff);

    private readonly Entry[]?[] _base = new Entry[]?[256];
    private ulong[] _keys = [];
    private Entry[] _extended = [];
    private int _extendedCount;
    private int _epoch = 1;

    public static long Tolerance(long period) => (period / 20) + (2 * Millisecond);

    public static ulong Key(in CanFrame frame) =>
        ((ulong)frame.Interface << 32) | (frame.Id.IsExtended ? 0x8000_0000u : 0) | frame.Id.Value;

    public void Learn(in CanFrame frame, long time)
    {
        // A remote frame comes from another device than the answer under the same identifier; only the answer is learned.
        if (frame.IsError || frame.IsRemote)
        {
            return;
        }

        ref Entry entry = ref Find(frame);
        if (Unsafe.IsNullRef(ref entry))
        {
            return;
        }

        long gap = time - entry.Last;
        if (entry.Epoch != _epoch)
        {
            // The gap spans something unknown: it says nothing about the pace, and takes nothing back.
            entry.Epoch = _epoch;
            entry.Last = time;
            return;
        }

        if (gap < 0)
        {
            return;
        }

        entry.Last = time;
        long difference = gap - entry.Period;
        if (entry.Regular > 0 && Math.Abs(difference) <= Tolerance(entry.Period))
        {
            entry.Period += difference / Averaging;
            entry.Regular = Math.Min(entry.Regular + 1, MostRegular);
        }
        else if (entry.Regular >= RegularGapsNeeded)
        {
            entry.Regular -= CostOfOneOff;
        }
        else
        {
            entry.Period = gap;
            entry.Regular = 1;
        }
    }

    /// <summary>The next gap of that identifier isn't judged: its last stamp was wrong.</summary>
    public void Forget(in CanFrame frame)
    {
        if (frame.IsError)
        {
            return;
        }

        ref Entry entry = ref Find(frame);
        if (!Unsafe.IsNullRef(ref entry))
        {
            entry.Epoch = 0;
        }
    }

    /// <summary>How much time passes until the next frame isn't known: no gap across this point is judged.</summary>
    public void Interrupt() => _epoch++;

    /// <summary>Those that came regularly up to now and weren't overdue.</summary>
    public void Collect(long now, List<Cycle> cycles)
    {
        cycles.Clear();
        for (int index = 0; index < _base.Length; index++)
        {
            Entry[]? entries = _base[index];
            for (int id = 0; entries != null && id < entries.Length; id++)
            {
                Collect(entries[id], ((ulong)index << 32) | (uint)id, now, cycles);
            }
        }

        for (int slot = 0; _extendedCount > 0 && slot < Slots; slot++)
        {
            Collect(_extended[slot], _keys[slot] - 1, now, cycles);
        }
    }

    private void Collect(in Entry entry, ulong key, long now, List<Cycle> cycles)
    {
        long tolerance = Tolerance(entry.Period);
        if (entry.Regular >= RegularGapsNeeded && entry.Epoch == _epoch && entry.Period is >= ShortestPeriod and <= LongestPeriod
            && now - entry.Last <= entry.Period + tolerance)
        {
            cycles.Add(new(key, entry.Last + entry.Period, tolerance));
        }
    }

    private ref Entry Find(in CanFrame frame)
    {
        if (!frame.Id.IsExtended)
        {
            Entry[] entries = _base[frame.Interface] ??= new Entry[CanId.MaxBase + 1];
            return ref entries[frame.Id.Value];
        }

        if (_keys.Length == 0)
        {
            // Many buses have none.
            _keys = new ulong[Slots];
            _extended = new Entry[Slots];
        }

        ulong key = Key(frame) + 1;
        int slot = (int)((key * 0x9E37_79B9_7F4A_7C15) >> 51);
        while (_keys[slot] != key)
        {
            if (_keys[slot] == 0)
            {
                if (_extendedCount == MostExtended)
                {
                    return ref Unsafe.NullRef<Entry>();
                }

                _extendedCount++;
                _keys[slot] = key;
                break;
            }

            slot = (slot + 1) & (Slots - 1);
        }

        return ref _extended[slot];
    }

    private struct Entry
    {
        public long Last;
        public long Period;
        public int Regular;
        public int Epoch;
    }
}
