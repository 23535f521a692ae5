using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Boards.Signals;

/// <summary>
/// What the status light does. Told by its rhythm alone, so that one diode is enough and nobody needs to see colours: how many flashes, or whether it is mostly lit. The card is printed from the same definitions.
/// </summary>
/// <param name="Rhythm">Milliseconds lit, dark, lit, dark …, over and over.</param>
/// <param name="IsGreen">Where two diodes are fitted, the green one shows it; otherwise the red one.</param>
/// <param name="Looks">How it looks.</param>
/// <param name="Means">What it means and what to do.</param>
internal sealed record LightPattern(IReadOnlyList<int> Rhythm, bool IsGreen, Sentence Looks, Sentence Means)
{
    public static readonly LightPattern Checking = new(
        [1000, 1000], true, Say($"slow: one second lit, one second dark"), Say($"The check after clipping on goes on; it takes half a minute at most."));

    public static readonly LightPattern AllWell = new(
        [100, 4900], true, Say($"one short flash every five seconds"), Say($"All is well: the bus is heard, and nothing is wrong that this tool can see."));

    public static readonly LightPattern LookAtPage = new(
        [150, 250, 150, 2450], false, Say($"two flashes, then a pause"), Say($"Look at the page: something is or was wrong, on the bus or with this board, that is no fault at this moment."));

    public static readonly LightPattern CheckClip = new(
        [150, 250, 150, 250, 150, 2050], false, Say($"three flashes, then a pause"), Say($"The bus is not heard: check the clip, the plug, the bit rate and the bus’s power, in this order."));

    public static readonly LightPattern BusFault = new(
        [120, 120], false, Say($"fast flicker without a pause"), Say($"A fault of the bus, now. The page says which and where."));

    public static readonly LightPattern Writing = new(
        [900, 100], true, Say($"lit, with a short gap every second"), Say($"A bundle is being written onto the stick: do not pull it out."));

    public static readonly LightPattern Done = new(
        [1000], true, Say($"lit for some seconds"), Say($"Done: the mark is set, or the bundle is on the stick, which may be pulled out."));

    public static readonly LightPattern Failed = new(
        [800, 200, 150, 450], false, Say($"long, short, long, short, for ten seconds"), Say($"What the button asked for failed; the page says why. A bundle needs a mounted stick with room on it, a mark needs the log."));

    /// <summary>As the card lists them.</summary>
    public static readonly IReadOnlyList<LightPattern> All = [Checking, AllWell, LookAtPage, CheckClip, BusFault, Writing, Done, Failed];

    private TimeSpan Length => TimeSpan.FromMilliseconds(Rhythm.Sum());

    /// <param name="since">Since the pattern began.</param>
    public bool IsLit(TimeSpan since)
    {
        double left = since.TotalMilliseconds % Length.TotalMilliseconds;
        for (int step = 0; step < Rhythm.Count; step++)
        {
            left -= Rhythm[step];
            if (left < 0)
            {
                return step % 2 == 0;
            }
        }

        return false;
    }
}
