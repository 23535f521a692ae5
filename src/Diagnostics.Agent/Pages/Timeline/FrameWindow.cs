using System.Globalization;
using Diagnostics.Can;
using Diagnostics.Can.Traces;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Protocols.CanOpen;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.Pages.Timeline;

/// <summary>One frame as it is shown.</summary>
/// <param name="Time">The stamp in the file.</param>
/// <param name="Interface">Where it was heard.</param>
/// <param name="Id">As the report writes identifiers; empty for an error message.</param>
/// <param name="Meaning">In words.</param>
/// <param name="Bytes">Its payload in hexadecimal.</param>
internal sealed record ShownFrame(Instant Time, string Interface, string Id, Sentence Meaning, string Bytes);

/// <summary>
/// Some frames of a file, in words. The file is read in pieces from its beginning, since what a frame means depends on those before it, and no further than is shown;
/// it may come from a bundle of anybody, so nothing of it is trusted: the parser never throws, and neither does the decoder.
/// </summary>
internal sealed class FrameWindow : IFrameSink
{
    /// <summary>Frames before the moment that is looked for: a screen of a phone.</summary>
    private const int Before = 20;

    private const int PieceBytes = 64 * 1024;

    private readonly Dictionary<byte, (string Name, FrameTeller? Teller)> _interfaces = [];
    private readonly Report? _report;
    private readonly AsBuiltRecord? _record;
    private readonly Instant? _at;
    private readonly List<ShownFrame> _frames = [];

    private FrameWindow(Report? report, AsBuiltRecord? record, Instant? at, long first)
    {
        _report = report;
        _record = record;
        _at = at;
        First = first;
    }

    /// <summary>The place of the first of <see cref="Frames"/> in the file, from 0.</summary>
    public long First { get; }

    public IReadOnlyList<ShownFrame> Frames => _frames;

    /// <summary>More follow in the file.</summary>
    public bool HasMore { get; private set; }

    /// <summary>The place of the first frame at or behind the moment; null where there is none.</summary>
    public long? Place { get; private set; }

    /// <summary>Of the first frame of the file.</summary>
    public Instant? Begin { get; private set; }

    /// <summary>The protocol of some interface isn't known, so its frames have their form only.</summary>
    public bool IsPartlyUntold { get; private set; }

    /// <summary>Records that couldn't be read.</summary>
    public bool IsDamaged { get; private set; }

    private long Seen { get; set; }

    /// <summary>The frames around a moment, or from a place on.</summary>
    /// <param name="path">A kept file.</param>
    /// <param name="report">Knows which protocol each interface speaks, and what nodes are called.</param>
    /// <param name="record">Names of the site.</param>
    /// <param name="at">On the stamps of the file; null = from a place on.</param>
    /// <param name="first">The place, where there is no moment.</param>
    /// <returns>Null where it is no trace, or can't be read.</returns>
    public static FrameWindow? Read(string path, Report? report, AsBuiltRecord? record, Instant? at, long first)
    {
        long? place = null;
        if (at is not null)
        {
            // Which frame it is must be known before it is told which lie before it.
            FrameWindow search = new(report, record, at, long.MaxValue);
            if (!search.Feed(path))
            {
                return null;
            }

            place = search.Place ?? search.Seen;
            first = Math.Max(0, place.Value - Before);
        }

        FrameWindow window = new(report, record, at, first);
        if (!window.Feed(path))
        {
            return null;
        }

        window.Place = window.Place is not null ? place : null;
        return window;
    }

    public void OnInterface(byte index, InterfaceFacts facts)
    {
        BusReport? bus = _report?.Buses.FirstOrDefault(bus => bus.Interface == facts.Name);
        if (_interfaces.TryGetValue(index, out (string Name, FrameTeller? Teller) known) && known.Name == facts.Name)
        {
            return;
        }

        FrameTeller? teller = bus?.Protocol != "canopen" ? null : new(_record, bus.Nodes.Where(node => node.Name is not null).DistinctBy(node => node.Address).ToDictionary(node => node.Address, node => node.Name!));
        _interfaces[index] = (facts.Name, teller);
    }

    public void OnFrame(in CanFrame frame)
    {
        Begin ??= frame.Time;
        long place = Seen++;
        if (_at is { } at && Place is null && frame.Time >= at)
        {
            Place = place;
        }

        (string name, FrameTeller? teller) = _interfaces.GetValueOrDefault(frame.Interface, (string.Empty, null));
        if (place < First)
        {
            // To look for a moment no frame has to be understood.
            if (First != long.MaxValue)
            {
                teller?.Hear(frame);
            }
        }
        else if (_frames.Count < Limits.FramesOnPage)
        {
            IsPartlyUntold |= teller is null && !frame.IsError;
            string id = frame.IsError ? string.Empty : "0x" + frame.Id.Value.ToString(frame.Id.IsExtended ? "X8" : "X3", CultureInfo.InvariantCulture);
            _frames.Add(new(frame.Time, name, id, teller?.Tell(frame) ?? FrameTeller.Form(frame), Spaced(frame.Bytes)));
        }
        else
        {
            HasMore = true;
        }
    }

    public void OnNotSeen(in NotSeen notSeen) => IsDamaged |= notSeen.Kind is NotSeenKind.DamagedRecords or NotSeenKind.BrokenOff;

    private bool IsDone => HasMore || (First == long.MaxValue && Place is not null);

    private bool Feed(string path)
    {
        try
        {
            using FileStream file = new(path, FileMode.Open, FileAccess.Read, FileShare.ReadWrite | FileShare.Delete, 1, FileOptions.SequentialScan);
            TraceParser parser = TraceParser.Create(this);
            byte[] piece = new byte[PieceBytes];
            long left = Limits.FrameFileBytes;
            for (int read; !IsDone && left > 0 && (read = file.Read(piece, 0, (int)Math.Min(piece.Length, left))) > 0; left -= read)
            {
                if (!parser.Feed(piece.AsSpan(0, read)))
                {
                    return false;
                }
            }

            return IsDone || parser.Complete();
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException)
        {
            return false;
        }
    }

    private static string Spaced(ReadOnlySpan<byte> bytes)
    {
        string hex = Convert.ToHexString(bytes);
        return string.Join(' ', Enumerable.Range(0, hex.Length / 2).Select(place => hex.Substring(2 * place, 2)));
    }
}
