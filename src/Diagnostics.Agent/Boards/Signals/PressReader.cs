namespace Diagnostics.Agent.Boards.Signals;

/// <summary>What a person did with the button.</summary>
internal enum Press
{
    None,
    Short,
    Long,
}

/// <summary>
/// From edges to presses. A contact bounces for some milliseconds (common practice, no source), so an edge within <see cref="Bounce"/> of the one before is none, and what it left behind is looked at later. Held for <see cref="Long"/> it is a long
/// press at that moment, not when it is let go: the light answers while the finger is still there. Pure; time is an argument, of a clock that never jumps.
/// </summary>
internal sealed class PressReader
{
    public static readonly TimeSpan Bounce = TimeSpan.FromMilliseconds(40);

    public static readonly TimeSpan Long = TimeSpan.FromSeconds(3);

    private TimeSpan? _downSince;
    private TimeSpan? _upSince;
    private bool _wasLong;
    private Press _ended;

    /// <summary>An edge came.</summary>
    public void OnEdge(bool isDown, TimeSpan now)
    {
        // The next press may begin before anybody looked at the end of this one.
        EndIfLetGo(now);
        if (isDown)
        {
            _downSince ??= now;
            _upSince = null;
        }
        else if (_downSince is not null)
        {
            _upSince ??= now;
        }
    }

    /// <summary>Called often, some ten times a second.</summary>
    public Press OnTick(TimeSpan now)
    {
        EndIfLetGo(now);
        (Press ended, _ended) = (_ended, Press.None);
        if (ended is Press.None && !_wasLong && _upSince is null && now - _downSince >= Long)
        {
            _wasLong = true;
            return Press.Long;
        }

        return ended;
    }

    /// <summary>A line that has been open for as long as contacts bounce is no longer pressed. How long it was is judged here only for a press that nobody looked at meanwhile.</summary>
    private void EndIfLetGo(TimeSpan now)
    {
        if (_downSince is not { } down || _upSince is not { } up || now - up < Bounce)
        {
            return;
        }

        TimeSpan length = up - down;
        if (!_wasLong && length >= Bounce)
        {
            _ended = length >= Long ? Press.Long : Press.Short;
        }

        (_downSince, _upSince, _wasLong) = (null, null, false);
    }
}
