using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;

namespace Diagnostics.Core.Counting;

/// <summary>
/// The ledger of what was not seen. Counts what was lost on our own side, and tells detectors that judge absence from when on
/// the record is whole again: they take <see cref="WholeSince"/> for the last time they heard anything.
/// </summary>
internal sealed class NotSeenLedger
{
    private readonly List<NotSeen> _gaps = [];
    private readonly Instant[] _wholeSince = new Instant[Limits.Interfaces];
    private readonly Instant[] _blindUntil = new Instant[Limits.Interfaces];
    private readonly TimeSpan[] _notHeard = new TimeSpan[Limits.Interfaces];
    private readonly TimeSpan[] _notRecorded = new TimeSpan[Limits.Interfaces];
    private readonly TimeSpan[] _unknown = new TimeSpan[Limits.Interfaces];
    private readonly long[] _lostFrames = new long[Limits.Interfaces];

    private readonly Instant[] _recordedSince = new Instant[Limits.Interfaces];

    public NotSeenLedger()
    {
        Array.Fill(_wholeSince, Instant.MinValue);
        Array.Fill(_blindUntil, Instant.MinValue);
        Array.Fill(_recordedSince, Instant.MinValue);
    }

    public long KernelDropped { get; private set; }

    public long QueueDropped { get; private set; }

    public long DamagedRecords { get; private set; }

    /// <summary>Steps of the clock that were taken out of the line: behind them its times aren't the source's stamps. Stamps of single frames that were wrong move nothing.</summary>
    public long StepsTakenOut { get; private set; }

    public void Add(in NotSeen entry)
    {
        switch (entry.Kind)
        {
            case NotSeenKind.KernelDropped:
                KernelDropped += entry.Count;
                break;
            case NotSeenKind.QueueDropped:
                QueueDropped += entry.Count;
                break;
            case NotSeenKind.DamagedRecords:
                DamagedRecords += entry.Count;
                break;
            case NotSeenKind.ClockStep when entry.Count == 0:
                StepsTakenOut++;
                break;
            default:
                break;
        }

        for (int i = 0; i < Limits.Interfaces; i++)
        {
            if (entry.Interface != NotSeen.AllInterfaces && entry.Interface != i)
            {
                continue;
            }

            _wholeSince[i] = Instant.Max(_wholeSince[i], entry.End);
            if (entry.Kind == NotSeenKind.NotRecorded)
            {
                _notRecorded[i] += entry.End - entry.Start;
                _recordedSince[i] = Instant.Max(_recordedSince[i], entry.End);
            }
            else
            {
                _blindUntil[i] = Instant.Max(_blindUntil[i], entry.End);
            }

            if (entry.Kind is NotSeenKind.KernelDropped or NotSeenKind.QueueDropped or NotSeenKind.DamagedRecords)
            {
                _lostFrames[i] += entry.Count;
            }
            else if (entry.Kind == NotSeenKind.StepOrSilence)
            {
                _unknown[i] += entry.End - entry.Start;
            }
            else if (entry.Kind != NotSeenKind.ClockStep)
            {
                _notHeard[i] += entry.End - entry.Start;
            }
        }

        // Losses that follow each other closely for the same reason are one gap to a reader.
        if (_gaps.Count > 0
            && _gaps[^1] is NotSeen last
            && last.Interface == entry.Interface && last.Kind == entry.Kind
            && (entry.Start - last.End < TimeSpan.FromSeconds(1) || _gaps.Count >= Limits.Gaps))
        {
            _gaps[^1] = last with { End = Instant.Max(last.End, entry.End), Count = last.Count + entry.Count };
        }
        else if (_gaps.Count < Limits.Gaps)
        {
            _gaps.Add(entry);
        }
    }

    /// <summary>From this moment on nothing was lost on the interface, as far as we know.</summary>
    public Instant WholeSince(byte index) => _wholeSince[index];

    /// <summary>The same without the time between files, in which nobody says that it was listened: that is no blindness of ours.</summary>
    public Instant BlindUntil(byte index) => _blindUntil[index];

    /// <summary>The file began then; what was heard before it may have been put away in the meantime.</summary>
    public Instant RecordedSince(byte index) => _recordedSince[index];

    /// <summary>In all, between files too.</summary>
    public TimeSpan NotHeard(byte index) => _notHeard[index];

    /// <summary>The part of it that lies between files.</summary>
    public TimeSpan NotRecorded(byte index) => _notRecorded[index];

    /// <summary>How long the stamps leapt where nobody can tell whether their clock was set or nothing was sent.</summary>
    public TimeSpan Unknown(byte index) => _unknown[index];

    public long LostFrames(byte index) => _lostFrames[index];

    public NotSeenReport ToReport(Func<byte, string?> nameOf) => new(
        KernelDropped,
        QueueDropped,
        DamagedRecords,
        [.. _gaps.Select(gap => new GapReport(gap.Interface == NotSeen.AllInterfaces ? null : nameOf(gap.Interface), gap.Start, gap.End, gap.Why) { WhyWording = gap.Wording is { } wording ? Sentence.Of(wording).WhereNeeded : null })]);
}
