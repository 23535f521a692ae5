using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Boards.Sensors;

/// <summary>
/// What of a sensor's readings is worth telling. At the start at once: it was found, or not. Later a single transfer that fails is told by nobody: the wires run beside relays. Three in a row are trouble, and it is
/// over when the sensor has answered for ten seconds, so that one with a bad joint doesn't fill the log. A hang is told at once: it has lasted for seconds. Pure; time is an argument.
/// </summary>
internal sealed class SensorHealth(Sentence name, string part)
{
    public const int Slips = 3;

    /// <summary>How long it must work before trouble is over.</summary>
    public static readonly TimeSpan Calm = TimeSpan.FromSeconds(10);

    private TimeSpan? _goodSince;
    private int _failures;
    private bool _isKnown;

    /// <summary>What is wrong with it, a whole sentence; null where nothing is.</summary>
    public Sentence? Trouble { get; private set; }

    /// <summary>It has answered, or was found missing.</summary>
    public SensorCondition Condition => Trouble is not null ? SensorCondition.InTrouble : _isKnown ? SensorCondition.Working : SensorCondition.Looking;

    /// <returns>What is to be told, and whether it is good news.</returns>
    public (bool IsOver, Sentence Text)? OnGood(TimeSpan now)
    {
        bool wasKnown = _isKnown;
        _isKnown = true;
        _failures = 0;
        _goodSince ??= now;
        if (Trouble is not null && now - _goodSince.Value >= Calm)
        {
            Trouble = null;
            return (true, Say($"{name} ({part}): it works again."));
        }

        return wasKnown ? null : (true, Say($"{name} ({part}): found."));
    }

    /// <param name="why">A part of a sentence.</param>
    public (bool IsOver, Sentence Text)? OnFailure(Sentence why)
    {
        _goodSince = null;
        _failures++;
        if (Trouble is not null || (_isKnown && _failures < Slips))
        {
            return null;
        }

        Trouble = _isKnown
            ? Say($"{name} ({part}): {why}. What it measures is missing until it answers again; the bus is listened to as before.")
            : Say($"{name} ({part}) is in the settings and was not found: {why}. Check its wires, its address and its supply; it is looked for again and again.");
        _isKnown = true;
        return (false, Trouble);
    }

    public (bool IsOver, Sentence Text)? OnHang()
    {
        _goodSince = null;
        if (Trouble is not null)
        {
            return null;
        }

        _isKnown = true;
        Trouble = Say($"{name} ({part}): it holds up the I2C bus and does not let go. What it measures is missing until it lets go; the bus is listened to as before. Taking its supply away for a moment helps.");
        return (false, Trouble);
    }
}
