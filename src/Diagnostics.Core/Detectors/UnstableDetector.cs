using Diagnostics.Can;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Diagnosis;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Symptom: a node comes and goes repeatedly. Limit: an exponential penalty, +1000 each time it leaves (falls silent or restarts uncommanded), half-life
/// 15 min, unstable above 3000, steady again below 750, never kept up longer than 60 min after the last (RFC 2439, figures by RFC 7196 and RIPE-580).
/// Why leaving only: coming back is no second fault. Quick succession needs four; a steady rhythm is caught when it is faster than 8.8 min.
/// Lost frames: the events come from detectors that hold back themselves.
/// </summary>
internal sealed class UnstableDetector(Bus bus)
{
    private const double PerLeaving = 1000;
    private const double Limit = 3000;
    private const double Reuse = 750;
    private const double Most = 50_000;
    private static readonly TimeSpan HalfLife = TimeSpan.FromMinutes(15);
    public static readonly TimeSpan MaximumHold = TimeSpan.FromMinutes(60);

    private readonly double[] _penalty = new double[128];
    private readonly Instant[] _at = new Instant[128];
    private readonly Instant[] _first = new Instant[128];
    private readonly int[] _count = new int[128];

    public void OnLeft(NodeState node, Instant time)
    {
        byte address = node.Address;
        double decayed = Decayed(address, time);
        if (decayed < Reuse)
        {
            _first[address] = Instant.Min(node.LastHeard, time);
            _count[address] = 0;
        }

        _penalty[address] = Math.Min(decayed + PerLeaving, Most);
        _at[address] = time;
        _count[address]++;
        if (_penalty[address] <= Limit)
        {
            return;
        }

        Subject subject = Subject.OfNode(address);
        bool isNew = !bus.Book.IsOpen(Catalogue.NodeUnstable, bus.Name, subject);
        Finding finding = bus.Book.Raise(Catalogue.NodeUnstable, bus.Name, subject, _first[address], time, 0.97);
        finding.Tell(
            Say($"{bus.Names.Node(address)} comes and goes: it left the bus {_count[address]} times so far."),
            Say($"{bus.Names.Node(address)} came and went: it left the bus {_count[address]} times."));
        finding.Measurements = [new("timesLeft", _count[address], "1"), new("penalty", Math.Round(_penalty[address]), "1")];
        finding.AddEvidence(time, Say($"Left again."));
        if (isNew)
        {
            finding.Causes = Causes.Of(
                (Cause.CableIntermittent, 5, Say($"A joint or plug on its drop that opens and closes does this.")),
                (Cause.DeviceRestartedBySupply, 3, Say($"A supply at its limit restarts it again and again.")),
                (Cause.DeviceWatchdog, 2, Say($"Its own watchdog may restart it.")),
                (Cause.DeviceFault, 2, Say($"The module may be failing.")));
        }
    }

    public bool IsUnstable(NodeState node) => bus.Book.IsOpen(Catalogue.NodeUnstable, bus.Name, Subject.OfNode(node.Address));

    public void OnSecond(Instant now)
    {
        for (int address = 1; address < 128; address++)
        {
            if (_penalty[address] > 0 && (Decayed(address, now) < Reuse || now - _at[address] > MaximumHold))
            {
                _penalty[address] = 0;
                bus.Book.Close(Catalogue.NodeUnstable, bus.Name, Subject.OfNode(address), _at[address]);
            }
        }
    }

    private double Decayed(int address, Instant now) =>
        _penalty[address] == 0 ? 0 : _penalty[address] * Math.Pow(2, -(now - _at[address]) / HalfLife);
}
