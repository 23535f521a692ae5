using Diagnostics.Simulation.Devices;
using Diagnostics.Simulation.Staging;

namespace Diagnostics.Simulation.Wires;

/// <summary>
/// The voltage between the lines, bit by bit: whoever drives a dominant bit has a source behind a resistance, and the terminators in parallel are its load. What the last
/// second held is kept for the sensors.
/// </summary>
internal sealed class LineMeter
{
    /// <summary>At which a driver's voltage is named.</summary>
    private const double NominalOhms = 60;
    private const long Kept = 1_000_000_000;

    /// <summary>Cold things come to their value with this time constant.</summary>
    private const double WarmNanoseconds = 1800e9;

    private readonly LinePlan _plan;
    private readonly bool _isRead;
    private readonly long _origin;
    private readonly Dictionary<ProtocolController, double> _volts = [];
    private readonly Dictionary<ProtocolController, double> _ratios = [];
    private readonly List<Level> _levels = [];

    public LineMeter(Stage stage)
    {
        _plan = stage.Site.Line;
        _origin = stage.TimeOf(TimeSpan.Zero);
        Terminators = _plan.Terminators;
        _isRead = stage.Site.Gauges.Any(gauge => gauge.Gauge is Gauge.LineHighVolts or Gauge.LineLowVolts or Gauge.LineDifferenceVolts);
        foreach (Module module in stage.Modules.Values)
        {
            _volts[module.Controller] = _plan.NodeDriverVolts.GetValueOrDefault(module.Plan.Address, _plan.DriverVolts);
        }

        if (_isRead)
        {
            stage.Wire.Meter = this;
        }
    }

    private readonly record struct Level(long Start, long End, double Volts);

    public int Terminators { get; set; }

    /// <summary>Of the modules above that of our clip.</summary>
    public double GroundVolts { get; set; }

    public double RecessiveVolts => _plan.RecessiveVolts + GroundVolts;

    public void SetDriver(ProtocolController controller, double ratio) => _ratios[controller] = ratio;

    public void AddFrame(ProtocolController sender, FrameBits bits, long start, long bitNanoseconds)
    {
        double volts = DominantVolts(sender, start);
        int from = -1;
        for (int position = 0; position <= bits.Length; position++)
        {
            // The receivers drive the acknowledge slot.
            bool isDominant = position < bits.Length && (bits[position] == 0 || position == bits.AcknowledgeSlot);
            if (isDominant && from < 0)
            {
                from = position;
            }
            else if (!isDominant && from >= 0)
            {
                Add(start + (from * bitNanoseconds), start + (position * bitNanoseconds), volts);
                from = -1;
            }
        }
    }

    public void AddBit(ProtocolController driver, long start, long end) => Add(start, end, DominantVolts(driver, start));

    /// <summary>Mean of the difference over a window of the last second.</summary>
    public double MeanDifference(long start, long end)
    {
        double sum = 0;
        for (int at = _levels.Count - 1; at >= 0 && _levels[at].End > start - Kept; at--)
        {
            Level level = _levels[at];
            sum += Math.Max(0, Math.Min(level.End, end) - Math.Max(level.Start, start)) * level.Volts;
            if (level.End < start)
            {
                break;
            }
        }

        return sum / (end - start);
    }

    private double DominantVolts(ProtocolController driver, long time)
    {
        double atNominal = _volts.GetValueOrDefault(driver, _plan.DriverVolts) * _ratios.GetValueOrDefault(driver, 1);
        double source = atNominal * (NominalOhms + _plan.DriverOhms) / NominalOhms;
        double load = _plan.TerminatorOhms / Terminators;
        double warm = 1 + (_plan.ColdRatio * Math.Exp(-Math.Max(0, time - _origin) / WarmNanoseconds));
        return source * warm * load / (load + _plan.DriverOhms);
    }

    private void Add(long start, long end, double volts)
    {
        if (_levels.Count > 4096 && _levels[_levels.Count / 2].End < start - Kept)
        {
            _levels.RemoveRange(0, _levels.Count / 2);
        }

        _levels.Add(new(start, end, volts));
    }
}
