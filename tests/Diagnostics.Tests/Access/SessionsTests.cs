using Diagnostics.Agent;
using Diagnostics.Agent.Access;

namespace Diagnostics.Tests.Access;

public class SessionsTests
{
    private readonly HandClock _clock = new();
    private readonly Sessions _sessions;

    public SessionsTests() => _sessions = new(_clock);

    [Fact]
    public void ASessionEndsWhenIdleAndAfterADayWhatever()
    {
        string idle = _sessions.Begin();
        string busy = _sessions.Begin();
        for (TimeSpan passed = TimeSpan.Zero; passed < Limits.SessionLength; passed += Limits.SessionIdle / 2)
        {
            Assert.NotNull(_sessions.Find(busy));
            _clock.Move(Limits.SessionIdle / 2);
        }

        Assert.Null(_sessions.Find(idle));
        Assert.NotNull(_sessions.Find(busy));
        _clock.Move(TimeSpan.FromSeconds(1));
        Assert.Null(_sessions.Find(busy));
    }

    [Fact]
    public void TheirNumberIsBoundedAndTheOneUsedLongestAgoGoes()
    {
        string first = _sessions.Begin();
        _clock.Move(TimeSpan.FromSeconds(1));
        string second = _sessions.Begin();
        _clock.Move(TimeSpan.FromSeconds(1));
        Assert.NotNull(_sessions.Find(first));
        for (int count = 0; count < Limits.Sessions - 1; count++)
        {
            _clock.Move(TimeSpan.FromSeconds(1));
            _sessions.Begin();
        }

        Assert.Equal(Limits.Sessions, _sessions.Count);
        Assert.NotNull(_sessions.Find(first));
        Assert.Null(_sessions.Find(second));
    }

    [Fact]
    public void OnlyTheWholeTokenFindsIt()
    {
        string token = _sessions.Begin();
        Assert.Equal(43, token.Length);
        foreach (string? wrong in new[] { null, "", token[..42], token + "A", new string('A', 43), new string('!', 43), token.ToUpperInvariant() + "=", _sessions.Find(token)!.Key })
        {
            Assert.Null(_sessions.Find(wrong));
        }

        _sessions.End(_sessions.Find(token)!);
        Assert.Null(_sessions.Find(token));
    }
}
