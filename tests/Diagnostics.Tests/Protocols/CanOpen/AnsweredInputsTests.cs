using Diagnostics.Can;
using Diagnostics.Core.Protocols.CanOpen;
using Diagnostics.Simulation;
using Diagnostics.Tests.Detectors;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Protocols.CanOpen;

/// <summary>Identifiers are CiA 301's predefined connection set; what is counted as proof is our own choice (no source).</summary>
public class AnsweredInputsTests
{
    private static readonly Instant Start = new(1_700_000_000_000_000_000);

    [Fact]
    public void ASiteWithoutSupervisionIsKnownByItsAnswers()
    {
        Replayed replayed = Of(Unsupervised(), Minutes(15));
        Assert.Equal("canopen", replayed.Bus.GetProperty("protocol").GetString());
        Assert.Empty(replayed.Accusations);
    }

    [Fact]
    public void ButtonsThatNobodyPressesGiveNoProof()
    {
        Replayed replayed = Of(Unsupervised() with { People = new() { Activity = 0 } }, Minutes(15));
        Assert.Equal("none", replayed.Bus.GetProperty("protocol").GetString());
    }

    [Theory]
    [InlineData(5, false)]
    [InlineData(6, true)]
    public void SixAnswersAreNeeded(int answers, bool expected) => Assert.Equal(expected, IsProof(answers, 0));

    [Theory]
    [InlineData(11, 1, true)]
    [InlineData(11, 2, false)]
    [InlineData(12, 2, true)]
    public void EachUnaskedCommandTakesSixAnswers(int answers, int unasked, bool expected) => Assert.Equal(expected, IsProof(answers, unasked));

    [Theory]
    [InlineData(100, true)]
    [InlineData(101, false)]
    public void AnAnswerComesWithinATenthOfASecond(int milliseconds, bool expected) => Assert.Equal(expected, IsProof(8, 0, milliseconds));

    [Theory]
    [InlineData(0x181u, true)]
    [InlineData(0x57Fu, true)]
    [InlineData(0x080u, true)]
    [InlineData(0x7E5u, true)]
    [InlineData(0x012u, false)]
    [InlineData(0x101u, false)]
    [InlineData(0x280u, false)]
    [InlineData(0x690u, false)]
    [InlineData(0x7E8u, false)]
    public void AnIdentifierThatCanOpenDoesNotHaveRefusesAll(uint id, bool expected) => Assert.Equal(expected, IsProof(8, 0, id: CanId.Base(id)));

    [Fact]
    public void AnExtendedIdentifierRefusesAll() => Assert.False(IsProof(8, 0, id: CanId.Extended(0x18FF0102)));

    [Fact]
    public void CommandsToOneNodeOnlyAreNoProof() => Assert.False(IsProof(20, 0, commanded: 1));

    [Fact]
    public void InputsOfOneNodeOnlyAreNoProof() => Assert.False(IsProof(20, 0, asking: 1));

    [Fact]
    public void ValuesThatChangeAllTheTimeAreNoProof()
    {
        // Measured values look like inputs that change ten times a second; commands fall behind one of them by nature.
        AnsweredInputs answered = new();
        answered.OnIdentifier(Start, CanId.Base(0x181));
        bool isProof = false;
        for (int i = 0; i < 1000; i++)
        {
            answered.OnInput(Start + TimeSpan.FromMilliseconds(100 * i), (byte)(1 + (i % 3)));
            isProof |= i % 10 == 0 && answered.OnCommand(Start + TimeSpan.FromMilliseconds((100 * i) + 30), (byte)(10 + (i % 4)));
        }

        Assert.False(isProof);
    }

    private static Site Unsupervised() => WithModules(Library(), module => module with { HeartbeatMilliseconds = 0, Inputs = [.. module.Inputs.Select(input => input with { PressesPerHour = 15 })] })
        with { Controller = new() };

    /// <summary>Unasked commands first, then one answer every five seconds.</summary>
    private static bool IsProof(int answers, int unasked, int milliseconds = 20, CanId? id = null, int asking = 2, int commanded = 2)
    {
        AnsweredInputs answered = new();
        answered.OnIdentifier(Start, id ?? CanId.Base(0x181));
        Instant now = Start;
        for (int i = 0; i < unasked; i++)
        {
            now += TimeSpan.FromSeconds(5);
            Assert.False(answered.OnCommand(now, 10));
        }

        bool isProof = false;
        for (int i = 0; i < answers; i++)
        {
            now += TimeSpan.FromSeconds(5);
            answered.OnInput(now, (byte)(1 + (i % asking)));
            Instant answer = now + TimeSpan.FromMilliseconds(milliseconds);
            isProof = answered.OnCommand(answer, (byte)(10 + (i % commanded)));
            answered.OnCommand(answer, 11);
        }

        return isProof;
    }
}
