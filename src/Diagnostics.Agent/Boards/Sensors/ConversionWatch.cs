using Diagnostics.Can;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Boards.Sensors;

/// <summary>
/// A part that stands still goes on giving its last value, which may be a perfectly good one: a steady supply looks the same. What tells them apart is its own flag for a new conversion. Pure.
/// </summary>
internal sealed class ConversionWatch
{
    /// <summary>A hundred times the longest conversion here, so that a busy board isn't taken for a sick part.</summary>
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(1);

    private Instant? _last;

    /// <param name="isNew">The part says that it has converted since the last look.</param>
    /// <param name="now">When it was looked.</param>
    /// <exception cref="SensorDoubtException">It converts no more.</exception>
    public void OnLook(bool isNew, Instant now)
    {
        _last = isNew ? now : _last ?? now;
        if (now - _last.Value > Patience)
        {
            throw new SensorDoubtException(Say($"it goes on giving its last value and measures no more"));
        }
    }
}
