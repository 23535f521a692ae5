using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Core.Measuring;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Tests.Measuring;

public class MeasurementQueueTests
{
    private static Instant At(double seconds) => Instant.FromSeconds(1_700_000_000 + seconds);

    private static Measurement Of(Quantity quantity, double end, double value = 1) => new(quantity, At(end - 0.01), At(end), value);

    [Fact]
    public void ValuesComeOutInTheOrderOfTheirWindows()
    {
        MeasurementQueue queue = new();
        queue.Add(Of(Quantity.SupplyVolts, 2));
        queue.Add(Of(Quantity.AirCelsius, 1));
        queue.Add(Of(Quantity.BoardCelsius, 2));
        Assert.Equal((At(1) + TimeSpan.FromMilliseconds(50)).Nanoseconds, queue.NextDue);
        Assert.Equal([Quantity.AirCelsius, Quantity.SupplyVolts, Quantity.BoardCelsius], new[] { queue.Take().Quantity, queue.Take().Quantity, queue.Take().Quantity });
        Assert.Equal(long.MaxValue, queue.NextDue);
    }

    [Fact]
    public void WhatIsNoValueIsRefusedAndCounted()
    {
        MeasurementQueue queue = new();
        queue.Add(Of(Quantity.SupplyVolts, 2));
        queue.Add(Of(Quantity.SupplyVolts, 2));
        queue.Add(Of(Quantity.SupplyVolts, 1));
        queue.Add(Of(Quantity.SupplyVolts, 3, double.NaN));
        queue.Add(new(Quantity.SupplyVolts, At(4), At(4), 1));
        queue.Add(Of((Quantity)99, 5));
        Assert.Equal(5, queue.Refused);
    }

    [Fact]
    public void NeverHoldsMoreThanItsLimit()
    {
        MeasurementQueue queue = new();
        for (int i = 0; i < Limits.Measurements + 10; i++)
        {
            queue.Add(Of(Quantity.SupplyVolts, i));
        }

        Assert.Equal(10, queue.Refused);
    }

    [Fact]
    public void WhenFramesAndValuesOfOneWindowComeDoesNotMatter()
    {
        Assert.Equal(ReportOf(valuesFirst: true), ReportOf(valuesFirst: false));

        static string ReportOf(bool valuesFirst)
        {
            Analyzer analyzer = new(new() { SourceKind = "live", SourceName = "can0", BitRate = 125_000, Measuring = new() { NominalSupplyVolts = 24 } });
            analyzer.OnInterface(0, new("can0"));
            analyzer.Advance(At(0));
            for (int i = 1; i < 2000; i++)
            {
                CanFrame frame = CanFrame.Classic(At(i * 0.02), CanId.Base(0x700u + ((uint)i % 5) + 1), [5]);
                Measurement value = new(Quantity.SupplyVolts, At((i * 0.02) - 0.01), At(i * 0.02), i % 700 == 0 ? 18 : 24);
                if (valuesFirst)
                {
                    analyzer.OnMeasurement(value);
                    analyzer.OnFrame(frame);
                }
                else
                {
                    analyzer.OnFrame(frame);
                    analyzer.OnMeasurement(value);
                }
            }

            analyzer.Advance(At(60));
            return System.Text.Encoding.UTF8.GetString(ReportJson.ToUtf8(analyzer.Snapshot()));
        }
    }

    [Fact]
    public void SecondAndMinuteTellLowestMeanAndHighest()
    {
        Analyzer analyzer = new(new() { SourceKind = "live", SourceName = "can0" });
        analyzer.Advance(At(0));
        for (int i = 1; i <= 1210; i++)
        {
            analyzer.OnMeasurement(new(Quantity.SupplyVolts, At((i - 1) * 0.1), At(i * 0.1), i % 10));
            analyzer.Advance(At(i * 0.1));
        }

        analyzer.Advance(At(200));
        QuantityReport supply = Assert.Single(analyzer.Snapshot().Measurements);
        Assert.Equal(("supplyVolts", "V", 0, 4.5, 9), (supply.Quantity, supply.Unit, supply.Second!.Lowest, supply.Second.Mean, supply.Second.Highest));
        Assert.Equal(0, supply.Minute!.Start.Nanoseconds % 60_000_000_000);
        Assert.Equal((0, 4.5, 9), (supply.Minute.Lowest, supply.Minute.Mean, supply.Minute.Highest));
        Assert.Equal(1210, supply.Count);
        Assert.Equal(0.1, supply.WindowSeconds!.Value, 9);
        Assert.Equal(0.2, supply.SurelySeenSeconds!.Value, 9);
    }

    [Fact]
    public void AValueTakesNoMemoryOfItsOwn()
    {
        Analyzer analyzer = new(new() { SourceKind = "live", SourceName = "can0", BitRate = 125_000, Measuring = new() { NominalSupplyVolts = 24 } });
        analyzer.OnInterface(0, new("can0"));
        analyzer.OnFrame(CanFrame.Classic(At(0), CanId.Base(0x705), [5]));
        Feed(analyzer, 0, 1000);
        long before = GC.GetAllocatedBytesForCurrentThread();
        Feed(analyzer, 1000, 11_000);

        // 30,000 values; the ends of 100 seconds take some hundred bytes each, with or without them.
        Assert.InRange(GC.GetAllocatedBytesForCurrentThread() - before, 0, 50_000);
    }

    private static void Feed(Analyzer analyzer, int from, int to)
    {
        for (int i = from + 1; i <= to; i++)
        {
            analyzer.OnMeasurement(new(Quantity.SupplyVolts, At((i - 1) * 0.01), At(i * 0.01), 24));
            analyzer.OnMeasurement(new(Quantity.LineHighVolts, At((i - 1) * 0.01), At(i * 0.01), 2.5));
            analyzer.OnMeasurement(new(Quantity.LineLowVolts, At((i - 1) * 0.01), At(i * 0.01), 2.5));
            analyzer.Advance(At(i * 0.01));
        }
    }
}
