namespace Diagnostics.Core.Measuring;

/// <summary>How the report document names quantities and their units.</summary>
public static class Quantities
{
    private static readonly string[] Names = [.. Enum.GetNames<Quantity>().Select(name => char.ToLowerInvariant(name[0]) + name[1..])];

    /// <summary>As in <c>supplyVolts</c>.</summary>
    public static string NameOf(Quantity quantity) => Names[(int)quantity];

    /// <summary>V, A, °C, or 1 for a ratio.</summary>
    public static string UnitOf(Quantity quantity) => quantity switch
    {
        Quantity.SupplyAmperes => "A",
        Quantity.AirCelsius or Quantity.BoardCelsius => "°C",
        Quantity.AirHumidityRatio => "1",
        _ => "V",
    };
}
