using Diagnostics.Agent.Boards.Signals;
using Diagnostics.Agent.Languages;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using Diagnostics.Tests.Boards.Emulated;

namespace Diagnostics.Tests.Boards.Signals;

public class SmallDisplayTests
{
    /// <summary>An L is an L: five points wide, upright, at its place.</summary>
    [Fact]
    public void LettersStandUpright()
    {
        EmulatedSsd1306 chip = new(new());
        using SmallDisplay display = new(chip);
        display.Show(["L", " L"]);
        Assert.True(chip.IsOn);
        Assert.All(Enumerable.Range(0, 6), y => Assert.StartsWith("#......", chip.Row(y), StringComparison.Ordinal));
        Assert.StartsWith("#####..", chip.Row(6), StringComparison.Ordinal);
        Assert.StartsWith(".......", chip.Row(7), StringComparison.Ordinal);
        Assert.StartsWith("......#....", chip.Row(8), StringComparison.Ordinal);
        Assert.StartsWith("......#####.", chip.Row(14), StringComparison.Ordinal);
        display.Show([]);
        Assert.All(Enumerable.Range(0, 32), y => Assert.DoesNotContain('#', chip.Row(y)));
    }

    [Fact]
    public void WhatStandsThereAlreadyIsNotSentAgainAndNoTransferKeepsTheBusForLong()
    {
        EmulatedSsd1306 chip = new(new());
        using SmallDisplay display = new(chip);
        display.Show(["All well."]);
        int writes = chip.Writes;
        display.Show(["All well."]);
        Assert.Equal(writes, chip.Writes);
        Assert.InRange(chip.LongestTransfer, 1, 130);
    }

    [Theory]
    [InlineData("en")]
    [InlineData("de")]
    public void EveryScreenFitsAndHasLettersThatTheFontKnows(string code)
    {
        QuantityReport volts = new("supplyVolts", "V", default, default, 24.04, 24, 24, 24.1, 3, 0.0085, null, null, null);
        foreach (ClipVerdict verdict in Enum.GetValues<ClipVerdict>())
        {
            IReadOnlyList<IReadOnlyList<string>> screens = DisplayText.Screens(
                new(verdict, [new(ClipOutcome.Bad, Sentence.Plain("Prüfen Sie die Abgreifklemme – „sofort“, bei 24 °C …")), new(ClipOutcome.Good, Sentence.Plain("fine"))]), [volts], Language.Find(code)!);
            Assert.All(screens, screen => Assert.InRange(screen.Count, 1, DisplayText.Rows));
            Assert.All(screens.SelectMany(screen => screen), line => Assert.True(line.Length <= DisplayText.Columns && line.All(letter => letter is >= ' ' and <= '~')));
            Assert.Contains("U     24.04 V", screens[^1]);
            Assert.DoesNotContain(screens.SelectMany(screen => screen), line => line.Contains("fine", StringComparison.Ordinal) || line.Contains('?', StringComparison.Ordinal));
        }
    }
}
