namespace Diagnostics.Core;

/// <summary>
/// Every bound of the analysis in one place, so that hostile or broken traffic can't grow memory. Reaching one is counted and shown.
/// </summary>
internal static class Limits
{
    /// <summary>Interfaces of one source; a frame calls its interface by one byte and 255 means all.</summary>
    public const int Interfaces = 64;

    /// <summary>Identifiers kept apart per interface: twice the 2,048 that 11 bits allow. More is a fault of its own.</summary>
    public const int Identifiers = 4096;

    /// <summary>Findings ever opened per source; EMCY floods and hostile input must not fill the log.</summary>
    public const int Findings = 2000;

    /// <summary>Evidence rows of a finding (contract).</summary>
    public const int EvidenceRows = 8;

    /// <summary>Gaps told one by one in the report; later ones extend the last.</summary>
    public const int Gaps = 200;

    /// <summary>Events of all buses that are at hand, to tell what happened around a moment: a bus of 20 nodes has a few hundred in a busy minute.</summary>
    public const int Events = 4096;

    /// <summary>Seconds of an interface that no later one reached: each was busier than the next, and of traffic that rises and falls there are a dozen. Beyond it the oldest goes.</summary>
    public const int BusiestSeconds = 300;

    /// <summary>Measurements that wait for their frames: a second of eight quantities at 500 values a second, as fast as I2C gives them.</summary>
    public const int Measurements = 4096;

    /// <summary>Frames at hand to tell what was dominant in a window: 1.5 s of a bus of 125 kbit/s that is full of the shortest, 0.2 s at 1 Mbit/s; windows are 0.1 s at most.</summary>
    public const int FramesOfWindows = 4096;

    /// <summary>Inputs watched per interface: 127 nodes of 64 inputs.</summary>
    public const int Inputs = 127 * 64;

    /// <summary>Longest sentence that is said, characters: a list of all 127 nodes with names of two lines is shorter.</summary>
    public const int SentenceLength = 16 * 1024;

    /// <summary>Parameters put into one sentence, those of the sentences in it included: a list of all 127 nodes takes 400.</summary>
    public const int SentencePlaces = 2000;

    /// <summary>After this much silence only every 60th second ticks: no detector's limit is known finer than that by then.</summary>
    public static readonly TimeSpan FineTicks = TimeSpan.FromMinutes(10);

    /// <summary>After this much silence only every hour ticks.</summary>
    public static readonly TimeSpan MinuteTicks = TimeSpan.FromDays(1);

    /// <summary>After this much silence only every day ticks: stamps may span 183 years, and each tick costs microseconds.</summary>
    public static readonly TimeSpan HourlyTicks = TimeSpan.FromDays(30);
}
