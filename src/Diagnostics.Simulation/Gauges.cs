using Diagnostics.Can;

namespace Diagnostics.Simulation;

/// <summary>What a sensor on our board looks at; the unit ends the name.</summary>
public enum Gauge
{
    /// <summary>The supply at our clip.</summary>
    SupplyVolts,

    /// <summary>What flows past our clip into the modules.</summary>
    SupplyAmperes,
    LineHighVolts,
    LineLowVolts,
    LineDifferenceVolts,
    AirCelsius,
    AirHumidityRatio,
}

/// <summary>The mean over a window, as the sensor's thread labels it.</summary>
public readonly record struct GaugeReading(Gauge Gauge, Instant Start, Instant End, double Value);

/// <summary>Who reads the sensors.</summary>
public interface IGaugeSink
{
    /// <summary>In the order of the windows' ends, between the frames as time passes.</summary>
    void OnReading(in GaugeReading reading);
}

/// <summary>One sensor: every <see cref="Period"/> the mean over the last <see cref="Window"/>.</summary>
public sealed record GaugePlan(Gauge Gauge)
{
    public TimeSpan Period { get; init; } = TimeSpan.FromMilliseconds(25);

    public TimeSpan Window { get; init; } = TimeSpan.FromMilliseconds(8.2);

    /// <summary>Standard deviation of a reading, in the gauge's unit.</summary>
    public double Noise { get; init; } = 0.002;

    /// <summary>Labels are off by up to this, both ends alike: the sensor's thread and the frames have clocks of their own.</summary>
    public TimeSpan LabelError { get; init; } = TimeSpan.FromMilliseconds(0.3);
}

/// <summary>The supply of the bus: where it is fed in, our clip and the first module stand; the modules hang along the trunk behind.</summary>
public sealed record SupplyPlan
{
    public double Volts { get; init; } = 24;

    /// <summary>Of the source itself, with its terminals.</summary>
    public double SourceOhms { get; init; } = 0.1;

    /// <summary>From the source to our clip.</summary>
    public double FeedMetres { get; init; } = 10;

    /// <summary>One conductor of the feed; 1.5 mm² of plain copper, IEC 60228 class 1 or 2 at 20 °C.</summary>
    public double FeedOhmsPerKilometre { get; init; } = 12.1;

    /// <summary>One conductor of the trunk; 0.75 mm².</summary>
    public double TrunkOhmsPerKilometre { get; init; } = 24.5;

    /// <summary>Each module draws this, whatever its voltage (a linear regulator).</summary>
    public double ModuleAmperes { get; init; } = 0.03;

    /// <summary>Each output that is on draws this more.</summary>
    public double OutputAmperes { get; init; } = 0.02;

    /// <summary>And this when it comes on, for <see cref="InrushLength"/>.</summary>
    public double InrushAmperes { get; init; } = 0.8;

    public TimeSpan InrushLength { get; init; } = TimeSpan.FromMilliseconds(40);

    /// <summary>Below this at its terminals a module stops once <see cref="HoldUp"/> is over, and starts when it has half a volt more.</summary>
    public double BrownOutVolts { get; init; } = 15;

    public TimeSpan HoldUp { get; init; } = TimeSpan.FromMilliseconds(5);

    /// <summary>The source gives this part more (or less) when it is cold, and comes to its value within an hour or so.</summary>
    public double ColdRatio { get; init; }
}

/// <summary>The electrical side of the two lines: each driver behind its own resistance onto the terminators in parallel.</summary>
public sealed record LinePlan
{
    public double TerminatorOhms { get; init; } = 120;

    public int Terminators { get; init; } = 2;

    public double RecessiveVolts { get; init; } = 2.5;

    /// <summary>Dominant difference at 60 Ω.</summary>
    public double DriverVolts { get; init; } = 2.0;

    /// <summary>Drivers that differ, by node.</summary>
    public IReadOnlyDictionary<int, double> NodeDriverVolts { get; init; } = new Dictionary<int, double>();

    /// <summary>Of a driver: 20–50 Ω.</summary>
    public double DriverOhms { get; init; } = 35;

    /// <summary>As <see cref="SupplyPlan.ColdRatio"/>, of what the drivers give.</summary>
    public double ColdRatio { get; init; }
}

/// <summary>The air at the board: a sine over the day, coldest at three, with so much water in it that its dew point stays.</summary>
public sealed record AirPlan(double MeanCelsius = 21, double AmplitudeKelvin = 2, double DewPointCelsius = 9);
