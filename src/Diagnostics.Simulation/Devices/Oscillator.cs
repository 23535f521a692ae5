namespace Diagnostics.Simulation.Devices;

/// <summary>
/// A device's own clock: a constant deviation and a slow sine around it, as temperature causes over hours.
/// Times are nanoseconds since the simulation began, true on the one side and as this device counts them on the other.
/// </summary>
internal sealed class Oscillator
{
    private readonly double _deviation;
    private readonly double _amplitude;
    private readonly double _angular;
    private readonly double _phase;
    private readonly double _offset;

    public Oscillator(OscillatorPlan plan)
    {
        _deviation = plan.PartsPerMillion * 1e-6;
        _angular = 2 * Math.PI / (plan.WanderPeriod.TotalSeconds * 1e9);
        _amplitude = plan.WanderPartsPerMillion * 1e-6 / _angular;
        _phase = plan.WanderPhase;
        _offset = _amplitude * Math.Cos(_phase);
    }

    public double Local(double time) => time + (time * _deviation) + _offset - (_amplitude * Math.Cos((_angular * time) + _phase));

    /// <summary>The inverse, found by corrections, each of which lessens what is left by the deviation: six leave nothing even at 3000 ppm over days.</summary>
    public double True(double local)
    {
        double time = local;
        for (int i = 0; i < 6; i++)
        {
            time += local - Local(time);
        }

        return time;
    }
}
