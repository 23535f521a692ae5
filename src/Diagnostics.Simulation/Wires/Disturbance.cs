namespace Diagnostics.Simulation.Wires;

/// <summary>Something that inverts levels on their way to the controllers. It acts while the bus is busy; an idle bus isn't disturbed.</summary>
internal abstract class Disturbance
{
    public bool IsActive { get; set; }

    /// <summary>Asked before a whole frame is jumped over. False = it won't hit, and the exposure of that frame is accounted for.</summary>
    public abstract bool MayHit(ProtocolController sender, long start, long end, int bits);

    /// <summary>Asked for each bit where frames are played bit by bit.</summary>
    public abstract bool Hits(Wire wire, long bitStart);

    /// <summary>Whether this controller sees the bit that was just hit inverted.</summary>
    public abstract bool Reaches(ProtocolController controller);
}

/// <summary>Independent bit errors at a given ratio, either on every bit of the busy bus or only on what one controller sends.</summary>
internal sealed class BitNoise : Disturbance
{
    private readonly double _bitErrorRatio;
    private readonly ProtocolController? _onlySender;
    private readonly Randomness _chance;
    private long _remaining;
    private bool _reachesAll;

    public BitNoise(double bitErrorRatio, ProtocolController? onlySender, Randomness chance)
    {
        _bitErrorRatio = bitErrorRatio;
        _onlySender = onlySender;
        _chance = chance;
        _remaining = chance.Geometric(bitErrorRatio);
    }

    public override bool MayHit(ProtocolController sender, long start, long end, int bits)
    {
        if (_onlySender is not null && _onlySender != sender)
        {
            return false;
        }

        if (_remaining < bits)
        {
            return true;
        }

        _remaining -= bits;
        return false;
    }

    public override bool Hits(Wire wire, long bitStart)
    {
        bool exposed = _onlySender is null || (_onlySender.IsSending && _onlySender.IsOnBus);
        if (!exposed || _remaining-- > 0)
        {
            return false;
        }

        _remaining = _chance.Geometric(_bitErrorRatio);
        _reachesAll = _chance.Chance(0.5);
        return true;
    }

    /// <summary>
    /// Noise of the whole bus is seen by all or by about half of the controllers. A bad drop spoils what the others get;
    /// the sender hears its own transceiver well.
    /// </summary>
    public override bool Reaches(ProtocolController controller) =>
        _onlySender is not null ? controller != _onlySender : _reachesAll || _chance.Chance(0.5);
}

/// <summary>
/// Fast transients as in IEC 61000-4-4: bursts of 15 ms with pulses at 5 kHz, every 300 ms. Each pulse spoils the bit it falls into
/// with the given probability. A source of its own keeps no exact 300 ms: its period is drawn within a fifth (the standard's tolerance for the generator, from
/// memory), so that it doesn't stay in step with timers of whole seconds, hitting one node always and the others never.
/// </summary>
internal sealed class BurstNoise(double pulseHitRatio, long from, Randomness chance) : Disturbance
{
    private const double NominalPeriod = 300_000_000;
    private const long BurstLength = 15_000_000;
    private const long PulsePeriod = 200_000;

    private readonly long _period = (long)(NominalPeriod * chance.Between(0.8, 1.2));

    public override bool MayHit(ProtocolController sender, long start, long end, int bits)
    {
        long phase = Phase(start);
        return phase < BurstLength || phase + (end - start) >= _period;
    }

    public override bool Hits(Wire wire, long bitStart)
    {
        long phase = Phase(bitStart);
        if (phase >= BurstLength || phase % PulsePeriod >= wire.BitNanoseconds)
        {
            return false;
        }

        return chance.Chance(pulseHitRatio);
    }

    public override bool Reaches(ProtocolController controller) => true;

    private long Phase(long time)
    {
        long phase = (time - from) % _period;
        return phase < 0 ? phase + _period : phase;
    }
}
