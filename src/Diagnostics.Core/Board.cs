using Diagnostics.Can;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Detectors;
using Diagnostics.Core.Measuring;

namespace Diagnostics.Core;

/// <summary>
/// What the board measures beside the buses, and the detectors that judge it: as <see cref="Bus"/> for frames, it only hands on. Supply and lines belong to one bus, whose book
/// the findings go into. Without a measurement nothing here says anything.
/// </summary>
internal sealed class Board(MeasuringLimits limits)
{
    private static readonly TimeSpan Together = TimeSpan.FromMinutes(1);

    /// <summary>What an error takes on the wire at most, and the frame it spoilt, bits.</summary>
    private const int ErrorBits = 180;

    private readonly MeasurementTrack?[] _tracks = new MeasurementTrack?[Enum.GetValues<Quantity>().Length];
    private Bus? _bus;
    private SupplyLowDetector? _supplyLow;
    private SupplyDipDetector? _supplyDip;
    private LineLevelDetector? _lineLevel;
    private WeatherEvidence? _weather;
    private DominantTime? _dominant;
    private Instant _linesSince;

    /// <summary>Quantities that were measured, in their order.</summary>
    public IEnumerable<MeasurementTrack> Tracks => _tracks.OfType<MeasurementTrack>();

    public MeasurementTrack? this[Quantity quantity] => _tracks[(int)quantity];

    public LineLevelDetector? Lines => _lineLevel;

    /// <summary>Null where no supply is measured.</summary>
    public SupplyDipDetector? Dips => _supplyDip;

    /// <summary>Of the last temperature and humidity; null unless both were measured within a minute of each other.</summary>
    public (Instant Since, Instant At, double Celsius, double MarginKelvin)? DewPoint =>
        this[Quantity.AirCelsius] is { } air && this[Quantity.AirHumidityRatio] is { } humidity
        && (air.Last.End - humidity.Last.End).Duration() < Together
        && Air.DewPointCelsius(air.Last.Value, humidity.Last.Value) is double celsius
            ? (Instant.Max(air.All.Start, humidity.All.Start), Instant.Max(air.Last.End, humidity.Last.End), celsius, air.Last.Value - celsius)
            : null;

    /// <summary>Whether supply and lines are this bus's: the one that the settings name, else the first.</summary>
    public bool IsFor(Bus bus) => limits.Interface is null || bus.Name == limits.Interface;

    /// <param name="measurement">Its frames are known.</param>
    /// <param name="bus">Whose supply and lines they are; null = it isn't there yet.</param>
    public void OnMeasurement(in Measurement measurement, Bus? bus)
    {
        MeasurementTrack track = _tracks[(int)measurement.Quantity] ??= new(measurement.Quantity);
        bool secondEnded = track.Add(measurement);
        if (bus is null)
        {
            return;
        }

        _bus = bus;
        switch (measurement.Quantity)
        {
            case Quantity.SupplyVolts:
                OnSupply(measurement, track, secondEnded, bus);
                break;
            case Quantity.LineHighVolts or Quantity.LineLowVolts or Quantity.LineDifferenceVolts:
                OnLine(measurement, track, secondEnded, bus);
                break;
            case Quantity.AirCelsius when secondEnded:
                (_weather ??= new(bus)).OnSecond(track.LastSecond!.Value, DewPoint?.MarginKelvin);
                break;
            default:
                break;
        }
    }

    /// <summary>A frame or an error message of any bus, behind the bus itself.</summary>
    public void OnFrame(in CanFrame frame, Bus bus)
    {
        if (_dominant is null || bus != _bus || bus.NanosecondsPerBit <= 0)
        {
            return;
        }

        if (frame.IsError)
        {
            _dominant.AddUnknown(frame.Time, TimeSpan.FromTicks((long)(ErrorBits * bus.NanosecondsPerBit / 100)));
        }
        else
        {
            FrameBits bits = FrameLength.Of(frame);
            byte node = bus.Protocol.IsCanOpen ? bus.Identifiers.Find(frame.Id)?.Node ?? 0 : (byte)0;
            _dominant.Add(frame.Time, bits.Nominal + bits.Data - FrameLength.IntermissionBits, DominantBits.Of(frame), bus.NanosecondsPerBit, node);
        }
    }

    private void OnSupply(in Measurement value, MeasurementTrack track, bool secondEnded, Bus bus)
    {
        if (_supplyLow is null)
        {
            LearnedLevel habit = new(SupplyLowDetector.HabitSeconds);
            _supplyLow = new(bus, limits, habit);
            _supplyDip = new(bus, limits, habit);
        }

        if (secondEnded)
        {
            _supplyLow.OnSecond(track.LastSecond!.Value);
        }

        _supplyDip!.OnValue(value, track.SurelySeenSeconds);
    }

    private void OnLine(in Measurement value, MeasurementTrack track, bool secondEnded, Bus bus)
    {
        if (_lineLevel is null)
        {
            _lineLevel = new(bus);
            _dominant = new();
            _linesSince = value.End;
        }

        if (secondEnded)
        {
            _lineLevel.OnSecond(value.Quantity, track.LastSecond!.Value, RecentSupplyVolts(value.End));
        }

        bool isKnown = bus.NanosecondsPerBit > 0 && value.Start >= _linesSince && value.Start > bus.WholeSince && !bus.Loss.IsHeavy;
        _lineLevel.OnValue(value, isKnown ? _dominant!.Of(value.Start, value.End) : null, _dominant!);
    }

    private double? RecentSupplyVolts(Instant now) =>
        this[Quantity.SupplyVolts] is { } supply && now - supply.Last.End < TimeSpan.FromSeconds(2) ? supply.Last.Value : null;
}
