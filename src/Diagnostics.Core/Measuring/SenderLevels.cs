using Diagnostics.Can;
using Diagnostics.Core.Counting;

namespace Diagnostics.Core.Measuring;

/// <summary>
/// The swing that each node drives, from windows in which at least nine tenths of the dominant time are its own. The recessive level is the bus's, so one window gives
/// slope d·(V − Vrec) / d²; many are added up until chance leaves 1.5 %. Quiet nodes take hours.
/// </summary>
internal sealed class SenderLevels
{
    private const double OwnRatio = 0.9;
    private const double LeastDuty = 0.005;
    private const double SwingErrorRatio = 0.015;
    private const int LeastWindows = 20;

    /// <summary>A habit is three values from different parts of an hour.</summary>
    private const int HabitValues = 3;
    private static readonly TimeSpan HabitSpacing = TimeSpan.FromMinutes(20);

    private readonly Sender?[] _senders = new Sender?[PerNode.Count];

    public sealed class Sender(byte address)
    {
        public byte Address => address;

        public LearnedLevel Habit { get; } = new(HabitValues);

        internal double SumDV;
        internal double SumDD;
        internal int Windows;
        internal Instant HabitTaken = Instant.MinValue;

        /// <summary>The last that was known, volts.</summary>
        public double? Last { get; internal set; }

        /// <summary>Since then the habit is known.</summary>
        public Instant HabitSince { get; internal set; } = Instant.MinValue;

        /// <summary>Against its habit, as a ratio: 0.2 = a fifth more. Null = not known.</summary>
        public double? Change => Habit.Median is double usual && Last is double last ? (last / usual) - 1 : null;

        /// <summary>As it was one value earlier.</summary>
        public double? ChangeBefore { get; internal set; }
    }

    public IEnumerable<Sender> Known => _senders.OfType<Sender>().Where(sender => sender.Change is not null);

    /// <param name="value">Mean over the window, volts.</param>
    /// <param name="window">What was dominant in it.</param>
    /// <param name="recessive">The bus's recessive level, volts.</param>
    /// <param name="noise">Standard deviation of a window, volts.</param>
    /// <param name="mayLearn">Nothing is known to be the matter.</param>
    public void Add(in Measurement value, in DominantTime.Window window, double recessive, double noise, bool mayLearn)
    {
        if (window.Sender is 0 or >= PerNode.Count || !window.IsSharp || window.Duty < LeastDuty || window.SenderRatio < OwnRatio)
        {
            return;
        }

        Sender sender = _senders[window.Sender] ??= new(window.Sender);
        sender.Windows++;
        sender.SumDV += window.Duty * (value.Value - recessive);
        sender.SumDD += window.Duty * window.Duty;
        double swing = sender.SumDV / sender.SumDD;
        if (sender.Windows < LeastWindows || noise / Math.Sqrt(sender.SumDD) > SwingErrorRatio * Math.Abs(swing))
        {
            return;
        }

        sender.ChangeBefore = sender.Change;
        sender.Last = swing;
        if (mayLearn && sender.Habit.Median is null && value.End - sender.HabitTaken >= HabitSpacing)
        {
            sender.Habit.Add(swing);
            sender.HabitTaken = value.End;
            sender.HabitSince = value.End;
        }

        Restart(sender);
    }

    /// <summary>All but the habits belongs to before.</summary>
    public void BeginAnew()
    {
        foreach (Sender? sender in _senders)
        {
            if (sender is not null)
            {
                sender.Last = null;
                sender.ChangeBefore = null;
                Restart(sender);
            }
        }
    }

    /// <summary>The device may be another one from now on.</summary>
    public void Forget(byte address) => _senders[address] = null;

    private static void Restart(Sender sender)
    {
        sender.SumDV = sender.SumDD = 0;
        sender.Windows = 0;
    }
}
