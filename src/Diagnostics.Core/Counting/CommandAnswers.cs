using System.Numerics;
using Diagnostics.Can;

namespace Diagnostics.Core.Counting;

/// <summary>
/// Whether one node still answers what it is commanded to do. Most modules send something soon after a command that changes their outputs: they read them back. One that
/// did so nearly always, and then lets several such commands in a row pass without a frame, has stopped, though it sends nothing regular whose absence would tell.
/// The commands must be for two outputs at least: where one output no longer follows, its module has nothing to tell either.
/// Only what is surely heard counts: <see cref="Forget"/> whenever something is known that kept the command or the answer from being sent or heard.
/// </summary>
internal sealed class CommandAnswers
{
    /// <summary>Far longer than the slowest module and the fullest queue take, so that a late answer is one (common practice, no source).</summary>
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(1);

    /// <summary>So many answers make a habit, and one in twenty may have been missing: a chance below 1e-3 for three in a row, if they were independent.</summary>
    private const int HabitAnswers = 12;
    private const int AnswersForEachMiss = 20;

    /// <summary>Then both counts are halved, so that what was long ago weighs less.</summary>
    private const int Memory = 256;

    private const int LeastOutputs = 2;

    private Instant _asked = Instant.MinValue;
    private int _missed;

    /// <summary>Outputs, one bit each (those beyond 64 share bits): commanded by what waits for an answer, by what had none, and by what was answered.</summary>
    private ulong _askedOutputs;
    private ulong _unansweredOutputs;
    private ulong _answeredOutputs;

    /// <summary>Commands that were answered, as far as they are remembered.</summary>
    public int Answered { get; private set; }

    /// <summary>It is known for answering.</summary>
    public bool IsHabit => Answered >= HabitAnswers && _missed * AnswersForEachMiss <= Answered && BitOperations.PopCount(_answeredOutputs) >= LeastOutputs;

    /// <summary>The latest commands, without an answer between them.</summary>
    public int UnansweredInARow { get; private set; }

    /// <summary>Those were for more than one output.</summary>
    public bool AreForSeveralOutputs => BitOperations.PopCount(_unansweredOutputs) >= LeastOutputs;

    /// <summary>When the first of those came.</summary>
    public Instant FirstUnanswered { get; private set; } = Instant.MinValue;

    /// <summary>A command that changes an output. Together with one that waits for its answer already it is one question.</summary>
    /// <param name="time">When it came.</param>
    /// <param name="output">From 1.</param>
    /// <param name="isFirst">What the output was commanded to be before isn't known, so it may change nothing.</param>
    public void OnCommand(Instant time, int output, bool isFirst = false)
    {
        if (isFirst)
        {
            return;
        }

        Settle(time);
        if (_asked == Instant.MinValue)
        {
            _asked = time;
            _askedOutputs = 0;
        }

        _askedOutputs |= 1UL << (output & 63);
    }

    /// <summary>Any frame of the node.</summary>
    public void OnHeard(Instant time)
    {
        Settle(time);
        if (_asked != Instant.MinValue)
        {
            _asked = Instant.MinValue;
            _answeredOutputs |= _askedOutputs;
            Answered++;
        }

        _missed += UnansweredInARow;
        ForgetRow();
        if (Answered + _missed >= Memory)
        {
            Answered /= 2;
            _missed /= 2;
        }
    }

    /// <summary>It is so late.</summary>
    public void Settle(Instant now)
    {
        if (_asked == Instant.MinValue || now - _asked <= Patience)
        {
            return;
        }

        FirstUnanswered = UnansweredInARow++ == 0 ? _asked : FirstUnanswered;
        _unansweredOutputs |= _askedOutputs;
        _asked = Instant.MinValue;
    }

    /// <summary>Nothing can be said of commands before this moment that were not answered.</summary>
    public void Forget(Instant until)
    {
        if (_asked <= until)
        {
            _asked = Instant.MinValue;
        }

        if (UnansweredInARow > 0 && FirstUnanswered <= until)
        {
            ForgetRow();
        }
    }

    private void ForgetRow()
    {
        UnansweredInARow = 0;
        _unansweredOutputs = 0;
    }
}
