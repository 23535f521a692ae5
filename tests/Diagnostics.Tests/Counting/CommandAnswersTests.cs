using Diagnostics.Can;
using Diagnostics.Core.Counting;

namespace Diagnostics.Tests.Counting;

public class CommandAnswersTests
{
    private static Instant At(double seconds) => Instant.FromSeconds(1_700_000_000 + seconds);

    /// <summary>Commands 10 s apart, each answered after 5 ms.</summary>
    private static CommandAnswers After(int answered, int outputs = 2)
    {
        CommandAnswers answers = new();
        for (int i = 0; i < answered; i++)
        {
            answers.OnCommand(At((10 * i)), 1 + (i % outputs));
            answers.OnHeard(At((10 * i) + 0.005));
        }

        return answers;
    }

    [Theory]
    [InlineData(11, false)]
    [InlineData(12, true)]
    public void TwelveAnswersAreAHabit(int answered, bool isHabit) => Assert.Equal(isHabit, After(answered).IsHabit);

    [Fact]
    public void OneInTwentyMayBeMissing()
    {
        CommandAnswers answers = After(19);
        answers.OnCommand(At(500), 1);
        answers.OnHeard(At(502));
        Assert.False(answers.IsHabit);
        answers.OnCommand(At(510), 2);
        answers.OnHeard(At(510.1));
        Assert.True(answers.IsHabit);
    }

    [Fact]
    public void WhatComesWithinASecondIsAnAnswer()
    {
        CommandAnswers answers = After(12);
        answers.OnCommand(At(500), 1);
        answers.Settle(At(501));
        Assert.Equal(0, answers.UnansweredInARow);
        answers.OnHeard(At(501));
        Assert.Equal(13, answers.Answered);
        answers.OnCommand(At(510), 2);
        answers.Settle(At(511.001));
        Assert.Equal(1, answers.UnansweredInARow);
        Assert.Equal(At(510), answers.FirstUnanswered);
    }

    [Fact]
    public void CommandsInABurstAreOneQuestion()
    {
        CommandAnswers answers = After(12);
        for (int i = 0; i < 8; i++)
        {
            answers.OnCommand(At(500 + (0.1 * i)), 1 + i);
        }

        answers.Settle(At(502));
        Assert.Equal(1, answers.UnansweredInARow);
        Assert.True(answers.AreForSeveralOutputs);
    }

    [Fact]
    public void OneOutputAloneTellsNothingOfItsModule()
    {
        Assert.False(After(100, outputs: 1).IsHabit);
        CommandAnswers answers = After(12);
        for (int i = 0; i < 5; i++)
        {
            answers.OnCommand(At(500 + (10 * i)), 2);
        }

        answers.Settle(At(600));
        Assert.Equal(5, answers.UnansweredInARow);
        Assert.False(answers.AreForSeveralOutputs);
    }

    [Fact]
    public void WhatLiesBeforeAMomentIsForgotten()
    {
        CommandAnswers answers = After(12);
        answers.OnCommand(At(500), 1);
        answers.OnCommand(At(510), 2);
        answers.OnCommand(At(520), 1);
        answers.Settle(At(530));
        Assert.Equal(3, answers.UnansweredInARow);
        answers.Forget(At(499));
        Assert.Equal(3, answers.UnansweredInARow);
        answers.Forget(At(500));
        Assert.Equal(0, answers.UnansweredInARow);
        answers.OnCommand(At(540), 1);
        answers.Forget(At(541));
        answers.Settle(At(550));
        Assert.Equal(0, answers.UnansweredInARow);
    }

    [Fact]
    public void WhatWasLongAgoWeighsLess()
    {
        CommandAnswers answers = After(1_000);
        Assert.InRange(answers.Answered, 128, 256);
    }
}
