using Diagnostics.Simulation.Wires;

namespace Diagnostics.Simulation.Staging;

/// <summary>The sensors of our board: each gives its means at its own pace, labelled by the board's clock, a little off.</summary>
internal sealed class GaugeReader(Stage stage)
{
    /// <summary>Saturation vapour pressure by O. Tetens (1930), as in F. W. Murray (1967): 17.27, 237.3 °C; from memory, and others than the analysis has.</summary>
    private const double TetensSlope = 17.27;
    private const double TetensOffset = 237.3;

    /// <summary>1 ms, nanoseconds.</summary>
    private const double MeanLateness = 1e6;

    private readonly Randomness _chance = stage.Chance("gauges");

    public IGaugeSink? Sink { get; set; }

    public bool IsStopped { get; set; }

    public void Begin()
    {
        foreach (GaugePlan plan in stage.Site.Gauges)
        {
            long period = (long)plan.Period.TotalNanoseconds;
            long window = Math.Min(period, (long)plan.Window.TotalNanoseconds);

            // Parts run on clocks of their own, so no two windows begin together.
            Wait(plan, stage.TimeOf(TimeSpan.Zero) + (long)(_chance.Unit() * period), period, window);
        }
    }

    private void Wait(GaugePlan plan, long start, long period, long window) => stage.Timeline.At(start, () =>
    {
        (double, double) supply = (stage.Supply.Integral(), stage.Supply.Charge());
        stage.Timeline.At(start + window, () =>
        {
            if (Sink is not null && !IsStopped)
            {
                Read(plan, start, start + window, supply);
            }
        });

        // A thread that sleeps between windows is late now and then; a part that converts all the time isn't.
        Wait(plan, start + period + (period > window ? (long)_chance.Exponential(MeanLateness) : 0), period, window);
    });

    private void Read(GaugePlan plan, long start, long end, (double Volts, double Amperes) supplyAtStart)
    {
        LineMeter line = stage.Line;
        double value = plan.Gauge switch
        {
            Gauge.SupplyVolts => (stage.Supply.Integral() - supplyAtStart.Volts) / (end - start),
            Gauge.SupplyAmperes => (stage.Supply.Charge() - supplyAtStart.Amperes) / (end - start),
            Gauge.LineHighVolts => line.RecessiveVolts + (line.MeanDifference(start, end) / 2),
            Gauge.LineLowVolts => line.RecessiveVolts - (line.MeanDifference(start, end) / 2),
            Gauge.LineDifferenceVolts => line.MeanDifference(start, end),
            Gauge.AirCelsius => Celsius(end),
            _ => Vapour(stage.Site.Air.DewPointCelsius) / Vapour(Celsius(end)),
        };
        double error = _chance.Between(-1, 1) * plan.LabelError.TotalNanoseconds;
        Sink!.OnReading(new(plan.Gauge, stage.Observer.Label(start + (long)error), stage.Observer.Label(end + (long)error), value + (plan.Noise * _chance.Gaussian())));
    }

    private double Celsius(long time)
    {
        const double WarmestHour = 15;
        AirPlan air = stage.Site.Air;
        return air.MeanCelsius + (air.AmplitudeKelvin * Math.Cos(2 * Math.PI * (stage.HourOf(time) - WarmestHour) / 24));
    }

    private static double Vapour(double celsius) => Math.Exp(TetensSlope * celsius / (TetensOffset + celsius));
}
