using Diagnostics.Can;

namespace Diagnostics.Core.Counting;

/// <summary>What became of a frame the first time, before the repeat that got through.</summary>
internal enum ErrorHit : byte
{
    None,

    /// <summary>It came whole, and a receiver refused it behind its checksum.</summary>
    Refused,

    /// <summary>It didn't come whole.</summary>
    Spoilt,
}

/// <summary>
/// Error messages of one interface: by flag, as episodes, and whose frames they hit.
/// An episode merges errors within 50 ms, because one disturbance spoils several attempts (methods: count episodes for the interval). So bits within 50 ms
/// behind an error can't begin one, and are no exposure: without that (a counter's dead time) thousands of errors would be taken for fewer than they are.
/// Whose frame it was is told by the frame that comes next: a sender repeats at once. Another sender may win that arbitration, so this is
/// an estimate whose mistakes fall on others in proportion to their traffic, which is what the test against chance assumes anyway.
/// Two things may have happened to it: the frame itself came spoilt (stuff, bit or checksum error), or it came whole and a receiver refused it, which all
/// others see as a form error (ISO 11898-1: the flag for a wrong checksum begins behind the acknowledge delimiter). Only the first tells of its sender.
/// </summary>
internal sealed class ErrorCounters
{
    private static readonly TimeSpan EpisodeGap = TimeSpan.FromMilliseconds(50);

    /// <summary>
    /// A repeat comes after the error flag, its delimiter, the intermission and one frame; a contact that opened may hold it up for some tens of
    /// milliseconds more. Later frames say nothing about whose it was.
    /// </summary>
    private const int RepeatWithinBits = 400;
    private const long ContactOpenNanoseconds = 100_000_000;

    private ErrorHit _pending;
    private bool _isRunSpoilt;
    private long _spoiltEpisode;

    public long Messages { get; set; }

    public long WireErrors { get; private set; }

    public long Bit { get; private set; }

    public long Stuff { get; private set; }

    public long Form { get; private set; }

    public long Crc { get; private set; }

    public long Acknowledge { get; private set; }

    public long Other { get; private set; }

    public long Episodes { get; private set; }

    /// <summary>Bits in which an error would have begun an episode, in nominal bit times.</summary>
    public double ExposedBits { get; private set; }

    /// <summary>Those in which a frame came spoilt.</summary>
    public long SpoiltEpisodes { get; private set; }

    public Instant FirstError { get; private set; } = Instant.MinValue;

    public Instant LastError { get; private set; } = Instant.MinValue;

    public Instant EpisodeStart { get; private set; } = Instant.MinValue;

    /// <summary>Wire errors since the last good frame.</summary>
    public int Run { get; private set; }

    /// <summary>Wire errors of the run that the last good frame ended, and when that run began and ended.</summary>
    public int LastRun { get; private set; }

    /// <summary>One of them at least was something else than a form or acknowledge error: not all frames came whole up to their acknowledge slot.</summary>
    public bool IsLastRunSpoilt { get; private set; }

    public Instant RunStart { get; private set; } = Instant.MinValue;

    public Instant LastRunEnd { get; private set; } = Instant.MinValue;

    /// <summary>Good frames since the run that <see cref="LastRun"/> counts.</summary>
    public int FramesSinceRun { get; private set; }

    public int InThisSecond { get; private set; }

    public int InLastSecond { get; private set; }

    /// <param name="time">Of the message.</param>
    /// <param name="message">What it says.</param>
    /// <param name="bitsBefore">Of the frame that was hit.</param>
    /// <returns>Whether it began a new episode.</returns>
    public bool OnWireError(Instant time, in ErrorMessage message, double bitsBefore)
    {
        WireErrors++;
        InThisSecond++;
        Bit += message.IsBitError ? 1 : 0;
        Stuff += message.IsStuffError ? 1 : 0;
        Form += message.IsFormError ? 1 : 0;
        Crc += message.IsCrcError ? 1 : 0;
        Acknowledge += message.IsAcknowledgeError ? 1 : 0;
        Other += message.IsOtherWireError ? 1 : 0;
        if (Run++ == 0)
        {
            RunStart = time;
            _isRunSpoilt = false;
        }

        _isRunSpoilt |= !message.IsFormError && !message.IsAcknowledgeError;

        bool begins = LastError == Instant.MinValue || time - LastError > EpisodeGap;
        if (begins)
        {
            Episodes++;
            ExposedBits += bitsBefore;
            EpisodeStart = time;
            if (FirstError == Instant.MinValue)
            {
                FirstError = time;
            }
        }

        // The last error of an episode is the one right before the repeat that got through.
        if (!message.IsFormError)
        {
            SpoiltEpisodes += _spoiltEpisode == Episodes ? 0 : 1;
            _spoiltEpisode = Episodes;
            _pending = ErrorHit.Spoilt;
        }
        else if (_pending == ErrorHit.None)
        {
            _pending = ErrorHit.Refused;
        }

        LastError = time;
        return begins;
    }

    /// <param name="time">End of the frame.</param>
    /// <param name="bits">Its length with intermission, in nominal bit times.</param>
    /// <param name="nanosecondsPerBit">0 while the bit rate is unknown.</param>
    /// <returns>Whether this frame is taken for the one that an episode hit, and how.</returns>
    public ErrorHit OnGoodFrame(Instant time, double bits, double nanosecondsPerBit)
    {
        // A dominant bit in the intermission is an overload condition or the start of a frame, not an error (ISO 11898-1).
        ExposedBits += Exposed(time, bits - FrameLength.IntermissionBits, nanosecondsPerBit);
        FramesSinceRun++;
        if (Run > 0)
        {
            LastRun = Run;
            IsLastRunSpoilt = _isRunSpoilt;
            LastRunEnd = LastError;
            FramesSinceRun = 1;
            Run = 0;
        }

        ErrorHit hit = _pending;
        _pending = ErrorHit.None;
        long limit = (long)(RepeatWithinBits * nanosecondsPerBit) + ContactOpenNanoseconds;
        return hit != ErrorHit.None && time.Nanoseconds - LastError.Nanoseconds <= limit ? hit : ErrorHit.None;
    }

    private double Exposed(Instant end, double bits, double nanosecondsPerBit)
    {
        if (LastError == Instant.MinValue)
        {
            return bits;
        }

        double sinceGap = end.NanosecondsSince(LastError) - EpisodeGap.TotalNanoseconds;
        return sinceGap <= 0 ? 0 : nanosecondsPerBit > 0 ? Math.Min(bits, sinceGap / nanosecondsPerBit) : bits;
    }

    public void OnSecond()
    {
        InLastSecond = InThisSecond;
        InThisSecond = 0;
    }
}
