using Diagnostics.Core.Measuring;

namespace Diagnostics.Tests.Measuring;

public class AirTests
{
    /// <summary>Saturation over water as in steam tables (IAPWS, from memory): 0 °C 6.11, 10 °C 12.28, 20 °C 23.39, 30 °C 42.47, 40 °C 73.85 hPa.</summary>
    [Theory]
    [InlineData(0, 6.11)]
    [InlineData(10, 12.28)]
    [InlineData(20, 23.39)]
    [InlineData(30, 42.47)]
    [InlineData(40, 73.85)]
    public void SaturationPressureIsThatOfSteamTables(double celsius, double hectopascals) =>
        Assert.InRange(Air.SaturationHectopascals(celsius) / hectopascals, 0.995, 1.005);

    /// <summary>Dew points as in the tables of building physics (DIN 4108, from memory): 20 °C 50 % 9.3, 20 °C 60 % 12.0, 25 °C 50 % 13.9, 30 °C 80 % 26.2.</summary>
    [Theory]
    [InlineData(20, 0.5, 9.3)]
    [InlineData(20, 0.6, 12.0)]
    [InlineData(25, 0.5, 13.9)]
    [InlineData(30, 0.8, 26.2)]
    public void DewPointIsThatOfTables(double celsius, double humidity, double dewPoint) =>
        Assert.Equal(dewPoint, Air.DewPointCelsius(celsius, humidity)!.Value, 0.06);

    [Fact]
    public void SaturatedAirIsAtItsDewPoint() => Assert.Equal(17.3, Air.DewPointCelsius(17.3, 1)!.Value, 9);

    [Theory]
    [InlineData(20, 0)]
    [InlineData(20, 1.01)]
    [InlineData(20, double.NaN)]
    [InlineData(-60, 0.5)]
    [InlineData(90, 0.5)]
    public void WhatNoAirIsHasNoDewPoint(double celsius, double humidity) => Assert.Null(Air.DewPointCelsius(celsius, humidity));
}
