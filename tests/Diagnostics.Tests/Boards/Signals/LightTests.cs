using System.Device.Gpio;
using Diagnostics.Agent.Boards;
using Diagnostics.Agent.Boards.Signals;
using Diagnostics.Agent.Languages;
using Diagnostics.Tests.Access;
using Diagnostics.Tests.Boards.Emulated;

namespace Diagnostics.Tests.Boards.Signals;

public class LightTests
{
    private static string Seen(LightPattern pattern) => string.Concat(Enumerable.Range(0, 1000).Select(step => pattern.IsLit(TimeSpan.FromMilliseconds((step * 10) + 5)) ? '#' : '.'));

    /// <summary>
    /// Told apart without colours: by how many flashes come before a pause of a second and more, or, where there is no such pause, by how much of the time it is lit and how often it changes.
    /// </summary>
    [Fact]
    public void RhythmsDifferWithoutColour()
    {
        (int Flashes, int LitTenths, int Changes)[] looks = [.. LightPattern.All.Select(pattern =>
        {
            string seen = Seen(pattern);
            string[] groups = seen.Split(new string('.', 100), StringSplitOptions.RemoveEmptyEntries);
            int flashes = groups.Length > 1 ? groups.Max(group => group.Split('.', StringSplitOptions.RemoveEmptyEntries).Length) : 0;
            return (flashes, (seen.Count(tenth => tenth == '#') + 50) / 100, seen.Zip(seen.Skip(1)).Count(pair => pair.First != pair.Second) / 10);
        })];
        Assert.Equal(looks.Length, looks.Distinct().Count());
    }

    [Fact]
    public void APatternBeginsLitAndGoesOnForEver()
    {
        Assert.All(LightPattern.All, pattern => Assert.True(pattern.IsLit(TimeSpan.Zero)));
        Assert.Equal([true, false, true, false, false], new[] { 0, 200, 410, 600, 2900 }.Select(at => LightPattern.LookAtPage.IsLit(TimeSpan.FromMilliseconds(at))));
        Assert.True(LightPattern.LookAtPage.IsLit(TimeSpan.FromMilliseconds(3000)));
    }

    /// <summary>Flashes between 3 and 60 a second may set off a seizure in a few people; below three a second is the usual bound of guidelines for pages (WCAG 2.2, 2.3.1), which a small light need not keep, but no pattern is fast enough to be seen as a flicker of a screen.</summary>
    [Fact]
    public void NothingFlickersFasterThanFiveTimesASecond() =>
        Assert.All(LightPattern.All, pattern => Assert.True(Seen(pattern).Split('.', StringSplitOptions.RemoveEmptyEntries).Length <= 5 * 10));

    [Fact]
    public void TheButtonsAnswerComesFirstForItsTime()
    {
        HandClock clock = new();
        LightShow show = new(clock);
        show.Show(LightPattern.AllWell);
        Assert.Equal(LightPattern.AllWell, show.Now().Pattern);
        show.Answer(LightPattern.Writing, null);
        clock.Move(TimeSpan.FromMinutes(5));
        Assert.Equal((LightPattern.Writing, true), show.Now());
        show.Answer(LightPattern.Done, TimeSpan.FromSeconds(3));
        Assert.Equal((LightPattern.Done, true), show.Now());
        clock.Move(TimeSpan.FromSeconds(3));
        Assert.Equal((LightPattern.AllWell, true), show.Now());
        clock.Move(TimeSpan.FromMilliseconds(150));
        Assert.Equal((LightPattern.AllWell, false), show.Now());
    }

    [Theory]
    [InlineData(17, 27, 17, 27)]
    [InlineData(17, -1, 17, 17)]
    [InlineData(-1, 27, 27, 27)]
    public void OneDiodeShowsEverythingTwoShareIt(int green, int red, int well, int fault)
    {
        EmulatedGpio driver = new();
        using StatusLight light = new(new GpioController(driver), new(green, red));
        light.Show(LightPattern.AllWell, isLit: true);
        light.Show(LightPattern.AllWell, isLit: true);
        light.Show(LightPattern.AllWell, isLit: false);
        light.Show(LightPattern.BusFault, isLit: true);
        Assert.Equal([(well, true), (well, false), (fault, true)], driver.Written.SkipWhile(written => !written.IsHigh));
    }

    /// <summary>What scripts/card prints comes from the light's own definitions.</summary>
    [Theory]
    [InlineData("en")]
    [InlineData("de")]
    public void TheCardHoldsEveryPatternAndFitsOnA6(string code)
    {
        Language language = Language.Find(code)!;
        string card = Card.Render(language);
        Assert.All(LightPattern.All, pattern => Assert.Contains(language.Say(pattern.Looks)[..15], card, StringComparison.Ordinal));
        Assert.All(card.Split('\n'), line => Assert.True(line.Length <= Card.Width));

        // A6 is 148 mm high: lines of seven points, 2.7 mm each, and 5 mm of margin above and below.
        Assert.InRange(card.TrimEnd('\n').Split('\n').Length, 20, 51);
    }
}
