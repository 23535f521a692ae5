namespace Diagnostics.Core.Measuring;

/// <summary>Everything that the board measures, each quantity from its first value on. Hands values on, judges nothing.</summary>
internal sealed class BoardMeasurements
{
    private readonly MeasurementTrack?[] _tracks = new MeasurementTrack?[Enum.GetValues<Quantity>().Length];

    /// <summary>Quantities that were measured, in their order.</summary>
    public IEnumerable<MeasurementTrack> Tracks => _tracks.OfType<MeasurementTrack>();

    public MeasurementTrack? this[Quantity quantity] => _tracks[(int)quantity];

    public void OnMeasurement(in Measurement measurement)
    {
        MeasurementTrack track = _tracks[(int)measurement.Quantity] ??= new(measurement.Quantity);
        track.Add(measurement);
    }
}
