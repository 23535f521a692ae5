namespace Diagnostics.Core.Measuring;

/// <summary>
/// When air wets what is colder than itself. Magnus formula over water, with the constants of WMO-No. 8, Guide to Instruments and Methods of Observation, annex 4.B
/// (17.62, 243.12 °C, 6.112 hPa; from memory; valid from −45 to 60 °C): e_w = 6.112 hPa · exp(17.62 t / (243.12 + t)). A sensor that is off by 3 % of humidity moves the
/// dew point by half a degree at 50 %, by more in dry air.
/// </summary>
internal static class Air
{
    private const double Slope = 17.62;
    private const double Offset = 243.12;

    /// <summary>Below, relative humidity has no dew point that means anything.</summary>
    private const double LeastHumidity = 0.01;

    /// <summary>Saturation vapour pressure over water, hPa.</summary>
    public static double SaturationHectopascals(double celsius) => 6.112 * Math.Exp(Slope * celsius / (Offset + celsius));

    /// <summary>°C; null where the humidity is none.</summary>
    /// <param name="celsius">Of the air.</param>
    /// <param name="humidityRatio">Relative, 0–1.</param>
    public static double? DewPointCelsius(double celsius, double humidityRatio)
    {
        if (humidityRatio is not (>= LeastHumidity and <= 1.0) || celsius is not (>= -45 and <= 60))
        {
            return null;
        }

        double wet = Math.Log(humidityRatio) + (Slope * celsius / (Offset + celsius));
        return Offset * wet / (Slope - wet);
    }
}
