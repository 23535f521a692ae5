namespace Diagnostics.Agent.Boards.Signals;

/// <summary>What the light shows: how things stand, unless the button was just used. Any thread may ask and say.</summary>
internal sealed class LightShow(TimeProvider clock)
{
    private readonly Lock _lock = new();
    private LightPattern _usual = LightPattern.Checking;
    private LightPattern? _answer;
    private long _answered;
    private TimeSpan? _answerLasts;
    private LightPattern _shown = LightPattern.Checking;
    private long _since = clock.GetTimestamp();

    /// <summary>How things stand.</summary>
    public void Show(LightPattern usual)
    {
        lock (_lock)
        {
            _usual = usual;
        }
    }

    /// <summary>The button was used.</summary>
    /// <param name="pattern">What to show.</param>
    /// <param name="lasts">For how long; null = until the next answer.</param>
    public void Answer(LightPattern pattern, TimeSpan? lasts)
    {
        lock (_lock)
        {
            (_answer, _answered, _answerLasts) = (pattern, clock.GetTimestamp(), lasts);
        }
    }

    /// <summary>At this moment. A pattern begins at its beginning.</summary>
    public (LightPattern Pattern, bool IsLit) Now()
    {
        lock (_lock)
        {
            if (_answerLasts is { } lasts && clock.GetElapsedTime(_answered) >= lasts)
            {
                (_answer, _answerLasts) = (null, null);
            }

            LightPattern pattern = _answer ?? _usual;
            if (pattern != _shown)
            {
                (_shown, _since) = (pattern, clock.GetTimestamp());
            }

            return (pattern, pattern.IsLit(clock.GetElapsedTime(_since)));
        }
    }
}
