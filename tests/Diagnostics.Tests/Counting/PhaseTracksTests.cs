using Diagnostics.Core.Counting;

namespace Diagnostics.Tests.Counting;

public class PhaseTracksTests
{
    private sealed record Sender(double Period, double Phase = 0, double Jitter = 0.0002, double Walk = 0, double PartsPerMillion = 0, double From = 0, double Until = double.MaxValue, double Lost = 0);

    private static double Gaussian(Random chance) => Math.Sqrt(-2 * Math.Log(1 - chance.NextDouble())) * Math.Cos(2 * Math.PI * chance.NextDouble());

    /// <summary>Whether two senders were seen together at any moment, and when first.</summary>
    private static (bool Ever, double First, PhaseTracks Tracks) Hear(int seed, double seconds, params Sender[] senders)
    {
        Random chance = new(seed);
        List<double> arrivals = [];
        foreach (Sender sender in senders)
        {
            double local = sender.Phase;
            for (double time = sender.Phase; time < seconds; time += sender.Period * (1 + (sender.PartsPerMillion * 1e-6)))
            {
                local += sender.Walk * Gaussian(chance);
                double arrival = time + local - sender.Phase + Math.Abs(sender.Jitter * Gaussian(chance));
                if (arrival >= sender.From && arrival < sender.Until && chance.NextDouble() >= sender.Lost)
                {
                    arrivals.Add(arrival);
                }
            }
        }

        arrivals.Sort();
        PhaseTracks tracks = new();
        double first = double.NaN;
        foreach (double arrival in arrivals)
        {
            tracks.Add(new((long)(arrival * 1e9)));
            if ((tracks.TwoTogether || tracks.TwoClose) && double.IsNaN(first))
            {
                first = arrival;
            }
        }

        return (!double.IsNaN(first), first, tracks);
    }

    [Theory]
    [InlineData(0.0002, 0, 0)]
    [InlineData(0.008, 0, 0)]
    [InlineData(0.0002, 0.003, 0)]
    [InlineData(0.0005, 0, 0.3)]
    [InlineData(0.002, 0.001, 0.5)]
    public void OneSenderIsNeverTwo(double jitter, double walk, double lost)
    {
        for (int seed = 0; seed < 40; seed++)
        {
            Assert.False(Hear(seed, 3000, new Sender(1, 0.3, jitter, walk, Lost: lost)).Ever, $"seed {seed}");
        }
    }

    [Fact]
    public void ASlowTrackOfLateFramesDoesNotMakeTwoOfOneSender()
    {
        // A heartbeat of half a second; every eighth frame waits 5 to 8 ms for others, and every 120th 4 to 5 ms for some more.
        for (int seed = 0; seed < 40; seed++)
        {
            PhaseTracks tracks = new();
            Random chance = new(seed);
            for (int beat = 0; beat < 2400; beat++)
            {
                double late = beat % 8 == 1 ? 0.005 + (0.003 * chance.NextDouble()) : beat % 120 == 15 ? 0.004 + (0.001 * chance.NextDouble()) : Math.Abs(0.0006 * Gaussian(chance));
                tracks.Add(new((long)(((beat * 0.5) + late) * 1e9)));
                Assert.False(tracks.TwoTogether, $"seed {seed} beat {beat}");
            }
        }
    }

    [Fact]
    public void SlowTracksOfLateFramesAreOneSenderAmongThemselves()
    {
        // Two rows of a sender's frames wait for others, each by about as much, so each is a slow track; a pause may end the sender's own track and leave them.
        int slow = 0;
        for (int seed = 0; seed < 3000; seed++)
        {
            Random chance = new(seed);
            double period = new[] { 0.5, 1, 2 }[chance.Next(3)];
            int every = 4 + chance.Next(9);
            (int first, int second) = (chance.Next(every), chance.Next(every));
            (double one, double other) = (0.004 + (0.02 * chance.NextDouble()), 0.004 + (0.02 * chance.NextDouble()));
            int pause = 200 + chance.Next(40);
            int length = chance.Next(2) == 0 ? 0 : 3 + chance.Next(8);
            double jitter = 0.0015 * chance.NextDouble();
            PhaseTracks tracks = new();
            for (int beat = 0; beat < 700; beat++)
            {
                double queued = beat % every == first ? one : beat % every == second ? other : 0;
                double late = queued + Math.Abs(jitter * Gaussian(chance));
                if (beat < pause || beat >= pause + length)
                {
                    tracks.Add(new((long)(((beat * period) + late) * 1e9)), isQueued: queued > 0);
                    Assert.False(tracks.TwoTogether || tracks.TwoClose, $"seed {seed} beat {beat}");
                }
            }

            slow += tracks.PeriodSeconds > 1.5 * period ? 1 : 0;
        }

        Assert.True(slow > 100, $"only {slow} ended on a slow track");
    }

    [Theory]
    [InlineData(0.11)]
    [InlineData(0.37)]
    [InlineData(0.83)]
    public void TwoSendersOfOnePeriodAreTwoWithinADozenPeriods(double offset)
    {
        (bool ever, double first, _) = Hear(1, 100, new Sender(1, 0.3), new Sender(1, 0.3 + offset, From: 30));
        Assert.True(ever);
        Assert.InRange(first, 33, 43);
    }

    [Fact]
    public void TwoSendersOfDifferentPeriodsAreTwo() =>
        Assert.True(Hear(2, 200, new Sender(1, 0.3), new Sender(1.7, 0.4, From: 30)).Ever);

    [Fact]
    public void TwoThatWereThereFromTheBeginningAreTwo() =>
        Assert.True(Hear(3, 100, new Sender(1, 0.3), new Sender(1, 0.67)).Ever);

    [Fact]
    public void AHandOverIsNeverTwo()
    {
        for (int seed = 0; seed < 100; seed++)
        {
            double gap = new Random(seed).NextDouble() * 3;
            Assert.False(Hear(seed, 120, new Sender(1, 0.3, Until: 60), new Sender(1, 0.9, From: 60 + gap)).Ever, $"seed {seed}");
        }
    }

    [Fact]
    public void RestartsAreNeverTwo()
    {
        for (int seed = 0; seed < 60; seed++)
        {
            Random chance = new(seed);
            List<Sender> lives = [];
            double time = 0;
            while (time < 600)
            {
                double end = time + 5 + (40 * chance.NextDouble());
                lives.Add(new(1, chance.NextDouble(), From: time, Until: end));
                time = end + 0.3 + (2 * chance.NextDouble());
            }

            Assert.False(Hear(seed, 600, [.. lives]).Ever, $"seed {seed}");
        }
    }

    [Fact]
    public void TwoOscillatorsShowTheirSkew()
    {
        (bool ever, _, PhaseTracks tracks) = Hear(5, 600, new Sender(1, 0.3), new Sender(1, 0.7, PartsPerMillion: 30));
        Assert.True(ever);
        Assert.Equal(30e-6, Math.Abs(tracks.SkewRatio), 3e-6);
        Assert.True(Math.Abs(tracks.SkewRatio) > 5 * tracks.SkewError);
    }

    [Fact]
    public void OneBoardThatSendsTwicePerCycleShowsNoSkew()
    {
        (_, _, PhaseTracks tracks) = Hear(6, 600, new Sender(1, 0.3), new Sender(1, 0.7));
        Assert.True(Math.Abs(tracks.SkewRatio) < 5 * tracks.SkewError || Math.Abs(tracks.SkewRatio) < 0.5e-6);
    }

    [Theory]
    [InlineData(double.MaxValue, true)]
    [InlineData(60.0, false)]
    public void ASecondSenderThatBeginsLeavesTheOldPhaseAndARestartDoesNot(double firstUntil, bool another)
    {
        for (int seed = 0; seed < 50; seed++)
        {
            double phase = new Random(seed).NextDouble();
            if (Math.Abs(phase - 0.3) > 0.02)
            {
                PhaseTracks tracks = Hear(seed, 66, new Sender(1, 0.3, Until: firstUntil), new Sender(1, phase, From: 60.4)).Tracks;
                Assert.True(tracks.AnotherBeganAt(new(60_350_000_000)) == another, $"seed {seed}");
            }
        }
    }

    [Fact]
    public void ALossForgetsWhatWasPiecedTogether()
    {
        PhaseTracks tracks = Hear(3, 100, new Sender(1, 0.3), new Sender(1, 0.67)).Tracks;
        Assert.True(tracks.TwoTogether);
        tracks.OnLoss();
        Assert.False(tracks.TwoTogether);
    }

    [Fact]
    public void PairsFromTheBeginningAreNoPhase()
    {
        PhaseTracks tracks = new();
        for (int i = 0; i < 200; i++)
        {
            tracks.Add(new(i * 1_000_000_000L));
            tracks.Add(new((i * 1_000_000_000L) + 900_000));
            Assert.False(tracks.TwoTogether || tracks.TwoClose);
        }
    }

    [Theory]
    [InlineData(0.0)]
    [InlineData(0.0012)]
    [InlineData(0.0045)]
    [InlineData(0.0055)]
    [InlineData(0.009)]
    public void TwoSendersAMomentApartAreTwo(double offset)
    {
        for (int seed = 0; seed < 20; seed++)
        {
            (bool ever, double first, _) = Hear(seed, 300, new Sender(1, 0.3, 0.0005), new Sender(1, 0.3 + offset, 0.0005, From: 60, PartsPerMillion: 3));
            Assert.True(ever, $"seed {seed}");
            Assert.InRange(first, 64, 130);
        }
    }
}
