using Diagnostics.Can;
using Diagnostics.Core.Protocols.CanOpen;
using NmtState = Diagnostics.Core.Protocols.CanOpen.NodeState;

namespace Diagnostics.Core.Counting;

/// <summary>Everything kept about one node: a device that was heard sending with an address of its own.</summary>
internal sealed class NodeState(byte address)
{
    /// <summary>After a commanded reset or a firmware download a device may need this long to come back (common practice, no source).</summary>
    private static readonly TimeSpan RestartTime = TimeSpan.FromSeconds(30);

    /// <summary>From the last write of a download until it starts with the new program at the latest (common practice, no source).</summary>
    public static readonly TimeSpan DownloadTime = TimeSpan.FromMinutes(2);

    /// <summary>
    /// Within this a module has carried out a command and confirmed it, though ten frames of 5 ms may go first on a slow bus (common practice, no source).
    /// </summary>
    public static readonly TimeSpan AnswerTime = TimeSpan.FromMilliseconds(50);

    /// <summary>How much longer a rhythm is waited for that a restart may have changed (common practice, no source: stored 10 s, written 1 s).</summary>
    private const double Unconfirmed = 12;

    public byte Address { get; } = address;

    public Instant FirstHeard { get; set; }

    public Instant LastHeard { get; set; } = Instant.MinValue;

    /// <summary>The frame before <see cref="LastHeard"/>.</summary>
    public Instant PreviousHeard { get; set; } = Instant.MinValue;

    public long Frames { get; set; }

    public double Bits { get; set; }

    /// <summary>As error control reported it last.</summary>
    public NmtState? Reported { get; set; }

    /// <summary>Boot-ups heard after the node was known.</summary>
    public int Restarts { get; set; }

    /// <summary>Those of them that nothing on the bus explains.</summary>
    public int RestartsUnexplained { get; set; }

    public Instant LastBootUp { get; private set; } = Instant.MinValue;

    public Instant LastPdo { get; private set; } = Instant.MinValue;

    /// <summary>Error episodes on its frames.</summary>
    public long Errors { get; set; }

    /// <summary>Those of them that came spoilt.</summary>
    public long SpoiltFrames { get; set; }

    /// <summary>Runs of errors that ended in two different frames of one of its identifiers, as a collision of two senders does.</summary>
    public long Collisions { get; set; }

    public NodeKnowledge Knowledge { get; } = new();

    /// <summary>Arrivals of its heartbeat, guarding answers and boot-ups left out.</summary>
    public IdentifierState? Heartbeat { get; set; }

    public Cycle GuardRequests { get; } = new();

    public Instant LastGuardRequest { get; set; } = Instant.MinValue;

    /// <summary>Somebody guards it, so its error control frames are answers even where the request was lost: CiA 301 allows no heartbeat beside guarding.</summary>
    public bool IsGuarded(Instant time) =>
        GuardRequests.KnownPeriodSeconds is > 0 and double period && time.SecondsSince(LastGuardRequest) < BeatRecord.LongestGapBeats * period;

    /// <summary>Its identifiers other than error control, for devices that have neither heartbeat nor guarding.</summary>
    public List<IdentifierState> Sends { get; } = [];

    /// <summary>Until then its silence is expected.</summary>
    public Instant ExcusedUntil { get; private set; } = Instant.MinValue;

    public bool Silent { get; set; }

    /// <summary>It writes its program memory, and is busy with nothing else.</summary>
    public void ExcuseForDownload(Instant time) => Excuse(time + DownloadTime);

    private void Excuse(Instant until) => ExcusedUntil = Instant.Max(ExcusedUntil, until);

    /// <summary>Seconds; what was heard beats what was configured. Null = no heartbeat known.</summary>
    public double? HeartbeatSeconds =>
        Heartbeat is { Cycle.Rhythm: Rhythm.Cyclic } heard ? heard.Cycle.PeriodSeconds
        : Knowledge.HeartbeatMilliseconds is ushort configured and > 0 ? configured / 1000.0
        : null;

    /// <summary>It was commanded out of the state operational, in which alone it sends PDOs, and not back; heartbeats tell so only later.</summary>
    public bool IsKeptFromSending { get; private set; }

    private Instant _keptSince = Instant.MinValue;

    /// <summary>What lies before says nothing about beats that were missed: it was commanded to pause, or started anew.</summary>
    public Instant SteadySince => Instant.Max(LastBootUp, _keptSince);

    private void KeepFromSending(Instant time)
    {
        IsKeptFromSending = true;
        _keptSince = time;
    }

    public void LetSend() => IsKeptFromSending = false;

    /// <summary>Far longer than a device takes to obey, and less than most heartbeats (common practice, no source).</summary>
    private static readonly TimeSpan Obeying = TimeSpan.FromMilliseconds(50);

    private Instant _networkCommand = Instant.MinValue;

    public void OnNetworkCommand(Instant time, NmtCommand command)
    {
        _networkCommand = time;
        if (command is NmtCommand.ResetNode or NmtCommand.ResetCommunication)
        {
            Excuse(time + RestartTime);
        }

        if (command == NmtCommand.Start)
        {
            StartedAt = IsKeptFromSending ? time : StartedAt;
            LetSend();
        }
        else
        {
            KeepFromSending(time);
        }
    }

    /// <summary>When it was commanded to send PDOs again; what it sends without a heartbeat is due from then on.</summary>
    public Instant StartedAt { get; private set; } = Instant.MinValue;

    /// <summary>A network command to it, or to all, came right before.</summary>
    public bool WasCommanded(Instant time) => _networkCommand != Instant.MinValue && time - _networkCommand < Obeying;

    /// <summary>When its PDOs come was changed by a write, so what was learned of that no longer holds; it may have been the one that confirms commands, too.</summary>
    public void ForgetPaceOfPdos()
    {
        Answers = new();
        foreach (IdentifierState identifier in Sends)
        {
            identifier.ForgetHabit();
        }
    }

    private readonly (long Count, Instant Last)[] _pdos = new (long, Instant)[5];

    /// <summary>Number, 1–4, of its PDO that came last.</summary>
    public int LastPdoNumber { get; private set; }

    /// <summary>When that came the time before.</summary>
    public Instant PdoBefore { get; private set; }

    /// <summary>How often this PDO of it came.</summary>
    public long PdosOf(int number) => _pdos[number].Count;

    /// <summary>A PDO of it came. What was under way when the command came is out within a second.</summary>
    public void OnPdo(Instant time, int number)
    {
        LastPdo = time;
        LastPdoNumber = Math.Clamp(number, 0, _pdos.Length - 1);
        PdoBefore = _pdos[LastPdoNumber].Last;
        _pdos[LastPdoNumber] = (_pdos[LastPdoNumber].Count + 1, time);
        if (IsKeptFromSending && time - _keptSince >= TimeSpan.FromSeconds(1))
        {
            IsKeptFromSending = false;
        }
    }

    /// <summary>When a PDO for its outputs came last that wasn't the same as the one before.</summary>
    public Instant LastCommand { get; set; } = Instant.MinValue;

    /// <summary>Whether it answers commands, which tells of its silence where nothing of it is regular.</summary>
    public CommandAnswers Answers { get; private set; } = new();

    /// <summary>Supervised by its heartbeat or by guarding, which never pause on purpose.</summary>
    public bool IsSupervised => HeartbeatSeconds is not null || GuardRequests.Rhythm == Rhythm.Cyclic;

    /// <summary>Of what its silence is judged by: heartbeat or guarding, else the PDO with most of them.</summary>
    public BeatRecord? Beats => Heartbeat is { Beats.Due: > 0 } supervised ? supervised.Beats : Sends.MaxBy(identifier => identifier.Beats.Due)?.Beats;

    /// <summary>Standard deviation of its heartbeat's or guarding's gaps; infinite where it was heard often enough and has no rhythm, null where it wasn't.</summary>
    public double? ScatterSeconds =>
        Heartbeat is { Cycle.Rhythm: Rhythm.Cyclic } heartbeat ? heartbeat.Cycle.JitterSeconds
        : GuardRequests.Rhythm == Rhythm.Cyclic ? GuardRequests.JitterSeconds
        : Heartbeat is { Frames: >= 12 } ? double.PositiveInfinity
        : null;

    /// <summary>It started anew, and its heartbeat hasn't been heard in the learned rhythm since: a stored time may be back that nobody has overwritten yet.</summary>
    public bool IsRhythmUnconfirmed { get; private set; }

    public void OnBootUp(Instant time)
    {
        LastBootUp = time;
        Reported = NmtState.Initialising;

        // Until it is started it answers nothing, and nobody says when that is where there is no heartbeat: the habit has to show again.
        Answers = new();
        IsRhythmUnconfirmed = true;
    }

    /// <summary>Its heartbeat came, so long after its boot-up or the heartbeat before.</summary>
    public void OnHeartbeatGap(double seconds) => IsRhythmUnconfirmed = IsRhythmUnconfirmed && HeartbeatSeconds is double period && seconds > 1.5 * period;

    /// <summary>Something of it comes regularly, so that its absence can be noticed.</summary>
    public bool IsRegular => SilenceSeconds(LossEstimate.LeastMisses) is not null;

    /// <summary>
    /// Silence is noticed within this many seconds: by its heartbeat, else by guarding, else by the fastest PDO that comes regularly; null where nothing is
    /// regular. PDOs stop by design outside the state operational, so they only count inside it; and where there is a heartbeat they don't count at all, since a
    /// PDO may pause for reasons of its own (SYNC that stops, an event timer that was changed). PDOs that confirm commands never count.
    /// </summary>
    /// <param name="misses">So many beats in a row may be missed; null = however many.</param>
    public double? SilenceSeconds(int? misses)
    {
        if (misses is not int allowed)
        {
            return null;
        }

        double patience = IsRhythmUnconfirmed ? Unconfirmed : 1;
        if (Heartbeat is { Cycle.Rhythm: Rhythm.Cyclic } heard)
        {
            return patience * heard.Cycle.SilenceSeconds(allowed);
        }

        if (HeartbeatSeconds is double configured)
        {
            return patience * (allowed + 0.5) * configured;
        }

        if (GuardRequests.Rhythm == Rhythm.Cyclic)
        {
            return GuardRequests.SilenceSeconds(allowed);
        }

        double? limit = null;
        if ((Reported is null or NmtState.Operational) && !IsKeptFromSending)
        {
            foreach (IdentifierState identifier in Sends)
            {
                if (!identifier.IsAnswer && identifier.IsByClock && identifier.Cycle.SilenceSeconds(allowed) is double seconds && (limit is null || seconds < limit))
                {
                    limit = seconds;
                }
            }
        }

        return limit;
    }
}
