using Diagnostics.Simulation.Devices;

namespace Diagnostics.Simulation.Staging;

/// <summary>
/// The supply along the cable: one source, the feed, then the trunk from module to module, both conductors of each stretch. Currents change when outputs and modules do, and
/// all voltages at once with them; a module that gets too little stops and starts again.
/// </summary>
internal sealed class SupplyNetwork
{
    private const double StartAgainVolts = 0.5;
    private const long LookAgain = 20_000_000;
    private const double WarmNanoseconds = 1800e9;

    private readonly Stage _stage;
    private readonly SupplyPlan? _plan;
    private readonly Module[] _modules;
    private readonly int[] _inrushes;
    private readonly bool[] _isDown;
    private readonly long[] _lowSince;
    private readonly double[] _volts;
    private readonly double?[] _stopsForGoodBelow;
    private readonly long _origin;
    private double _clipVolts;
    private double _clipAmperes;
    private double _integral;
    private double _charge;
    private long _integratedTo;
    private double _jointOhms;
    private double? _sourceVolts;

    public SupplyNetwork(Stage stage)
    {
        _stage = stage;
        _plan = stage.Site.Supply;
        _origin = stage.TimeOf(TimeSpan.Zero);
        _modules = [.. stage.Site.Modules.Select(plan => stage.Modules[plan.Address])];
        _inrushes = new int[_modules.Length];
        _isDown = new bool[_modules.Length];
        _lowSince = new long[_modules.Length];
        _volts = new double[_modules.Length];
        _stopsForGoodBelow = new double?[_modules.Length];
        Array.Fill(_lowSince, long.MaxValue);
        if (_plan is null)
        {
            return;
        }

        for (int at = 0; at < _modules.Length; at++)
        {
            int index = at;
            _modules[at].PowerChanged += Solve;
            _modules[at].OutputChanged += (_, on) => OnOutput(index, on);
        }

        Solve();
    }

    public double JointOhms
    {
        set
        {
            _jointOhms = value;
            Solve();
        }
    }

    /// <summary>Null = the site's.</summary>
    public double? SourceVolts
    {
        set
        {
            _sourceVolts = value;
            Solve();
        }
    }

    /// <summary>Volt nanoseconds at our clip until now.</summary>
    public double Integral()
    {
        Integrate();
        return _integral;
    }

    /// <summary>Ampere nanoseconds that flowed past our clip until now.</summary>
    public double Charge()
    {
        Integrate();
        return _charge;
    }

    /// <summary>At a module's terminals.</summary>
    public double VoltsAt(int address) => _volts[IndexOf(address)];

    /// <summary>A module that stops below so many volts at its terminals and doesn't start again; null = it does as the others do, and starts if it was stopped.</summary>
    public void StopForGood(int address, double? belowVolts)
    {
        _stopsForGoodBelow[IndexOf(address)] = belowVolts;
        Solve();
    }

    private int IndexOf(int address) => Array.FindIndex(_modules, module => module.Plan.Address == address);

    private void OnOutput(int index, bool on)
    {
        if (on)
        {
            _inrushes[index]++;
            _stage.Timeline.At(_stage.Timeline.Now + (long)_plan!.InrushLength.TotalNanoseconds, () =>
            {
                _inrushes[index]--;
                Solve();
            });
        }

        Solve();
    }

    private void Integrate()
    {
        long now = _stage.Timeline.Now;
        double cold = (_plan?.ColdRatio ?? 0) * Math.Exp(-Math.Max(0, now - _origin) / WarmNanoseconds);
        _integral += (now - _integratedTo) * (_plan is null ? 24 : _clipVolts + (cold * _plan.Volts));
        _charge += (now - _integratedTo) * _clipAmperes;
        _integratedTo = now;
    }

    private double AmperesOf(int index) => !_modules[index].IsPowered ? 0
        : _plan!.ModuleAmperes + (System.Numerics.BitOperations.PopCount(_modules[index].Outputs) * _plan.OutputAmperes) + (_inrushes[index] * _plan.InrushAmperes);

    private void Solve()
    {
        if (_plan is null)
        {
            return;
        }

        Integrate();
        double amperes = 0;
        for (int at = 0; at < _modules.Length; at++)
        {
            amperes += AmperesOf(at);
        }

        double feed = _plan.SourceOhms + _jointOhms + (2 * _plan.FeedMetres * _plan.FeedOhmsPerKilometre / 1000);
        double volts = Math.Max(0, (_sourceVolts ?? _plan.Volts) - (amperes * feed));
        _clipVolts = volts;
        _clipAmperes = amperes;
        for (int at = 0; at < _modules.Length; at++)
        {
            volts = Math.Max(0, volts - (amperes * 2 * _modules[at].Plan.Metres * _plan.TrunkOhmsPerKilometre / 1000));
            _volts[at] = volts;
            amperes -= AmperesOf(at);
            Watch(at);
        }
    }

    private void Watch(int index)
    {
        if (_volts[index] >= (_stopsForGoodBelow[index] ?? _plan!.BrownOutVolts))
        {
            _lowSince[index] = long.MaxValue;
        }
        else if (_lowSince[index] == long.MaxValue && _modules[index].IsPowered)
        {
            _lowSince[index] = _stage.Timeline.Now;
            long since = _stage.Timeline.Now;
            _stage.Timeline.PhysicallyAt(since + (long)_plan!.HoldUp.TotalNanoseconds, () => BrownOut(index, since));
        }
    }

    private void BrownOut(int index, long since)
    {
        if (_lowSince[index] == since && _modules[index].IsPowered)
        {
            _isDown[index] = true;
            _modules[index].PowerOff();
            _stage.Timeline.PhysicallyAt(_stage.Timeline.Now + LookAgain, () => ComeBack(index));
        }
    }

    private void ComeBack(int index)
    {
        if (!_isDown[index])
        {
            return;
        }

        if (_stopsForGoodBelow[index] is null && _volts[index] >= _plan!.BrownOutVolts + StartAgainVolts)
        {
            _isDown[index] = false;
            _lowSince[index] = long.MaxValue;
            _modules[index].PowerOn();
        }
        else
        {
            _stage.Timeline.PhysicallyAt(_stage.Timeline.Now + LookAgain, () => ComeBack(index));
        }
    }
}
