using System.Globalization;

namespace Diagnostics.Can.Traces;

/// <summary>An interface as a capture file describes it. A cooked capture of version 2 may hold several kernel interfaces behind one.</summary>
internal sealed class CaptureInterface(TraceOutput output, RecordReader reader, int linkType, string name, bool isNamed, int? bitRate = null)
{
    private readonly Dictionary<uint, RecordSource?> _byKernelIndex = [];
    private RecordSource? _source;
    private bool _tried;

    public bool CarriesCan { get; } = LinkTypes.CarriesCan(linkType);

    public string Name => name;

    /// <summary>Says that the interface is there, before any frame of it; false at the limit of interfaces.</summary>
    public bool TryAnnounce(out byte index)
    {
        if (!_tried)
        {
            _tried = true;
            _source = output.TryInterface(name, out byte found, bitRate) ? new(found) : null;
        }

        index = _source?.Index ?? 0;
        return _source != null;
    }

    public void Read(Instant time, ReadOnlySpan<byte> packet, FrameFlags extra, long place)
    {
        TraceDamage damage = LinkTypes.Unwrap(linkType, packet, out ReadOnlySpan<byte> record, out RecordKind kind, out FrameFlags more, out uint kernelIndex, out bool isCan);
        if (damage != TraceDamage.None)
        {
            reader.Settle();
            output.Damaged(damage, place);
            return;
        }

        if (!isCan)
        {
            output.Remark($"Packets of {name} that carry no CAN were passed over.");
            return;
        }

        RecordSource? source = kernelIndex == 0 ? Own() : OfKernelIndex(kernelIndex);
        if (source == null)
        {
            output.Damaged(TraceDamage.InterfaceLimit, place);
            return;
        }

        reader.Read(source, time, record, kind, extra | more, place);
    }

    private RecordSource? Own() => TryAnnounce(out _) ? _source : null;

    private RecordSource? OfKernelIndex(uint kernelIndex)
    {
        if (_byKernelIndex.TryGetValue(kernelIndex, out RecordSource? known))
        {
            return known;
        }

        if (_byKernelIndex.Count >= TraceLimits.Interfaces)
        {
            return null;
        }

        // The trace knows the kernel's number only; the first keeps the plain name, so that one interface alone is called as usual.
        RecordSource? source = null;
        string number = kernelIndex.ToString(CultureInfo.InvariantCulture);
        if (_byKernelIndex.Count == 0)
        {
            source = Own();
        }
        else
        {
            string called = isNamed ? name + ":" + number : "can" + _byKernelIndex.Count.ToString(CultureInfo.InvariantCulture);
            source = output.TryInterface(called, out byte index) ? new(index) : null;
            output.Remark($"The trace doesn't name all its interfaces: {called} is the kernel's interface number {number}.");
        }

        _byKernelIndex.Add(kernelIndex, source);
        return source;
    }
}
