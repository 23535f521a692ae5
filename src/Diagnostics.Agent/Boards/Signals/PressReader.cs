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

    /// <summary>An edge came.</summary>
    public void OnEdge(bool isDown, TimeSpan now)
    {
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
        if (_downSince is not { } down)
        {
            return Press.None;
        }

        if (_upSince is { } up && now - up >= Bounce)
        {
            (_downSince, _upSince, bool wasLong) = (null, null, _wasLong);
            _wasLong = false;
            return wasLong || up - down < Bounce ? Press.None : Press.Short;
        }

        if (!_wasLong && _upSince is null && now - down >= Long)
        {
            _wasLong = true;
            return Press.Long;
        }

        return Press.None;
    }
}
