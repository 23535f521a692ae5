using Diagnostics.Simulation.Wires;

namespace Diagnostics.Simulation.Devices;

/// <summary>
/// The contact behind an input. A good one settles within 5 ms. A worn one bounces in bursts: about a third of the operations go on for more than
/// a millisecond, a fifth for more than 20 ms, the longest for seconds (recorded push buttons, shared/recordings/switch-bounce, session 2).
/// </summary>
internal sealed class Contact(Module module, InputPlan plan, Timeline timeline, Randomness chance)
{
    private const double Millisecond = 1e6;

    private int _operation;
    private bool _wanted;

    public Module Module { get; } = module;

    public InputPlan Plan { get; } = plan;

    /// <summary>0 = good, 1 = as in the recording, 3 = nearly each operation bounces.</summary>
    public double Wear { get; set; }

    public bool IsStuck { get; private set; }

    public bool IsClosed => _wanted;

    public void Stick()
    {
        Operate(true);
        IsStuck = true;
    }

    public void Release()
    {
        IsStuck = false;
        Operate(false);
    }

    public void Toggle() => Operate(!_wanted);

    public void Operate(bool closed)
    {
        if (IsStuck || closed == _wanted)
        {
            return;
        }

        _wanted = closed;
        int operation = ++_operation;
        long now = timeline.Now;
        Set(closed);

        bool bounces = Wear > 0 && chance.Chance(Math.Min(0.33 * Wear, 0.98));
        double length = bounces
            ? Math.Min(25 * Math.Exp(1.2 * chance.Gaussian()), 2000)
            : chance.Between(0, 3.5);
        int edges = bounces ? 6 + (2 * chance.Below(30)) : 2 * chance.Below(4);
        long last = now;
        for (int i = 0; i < edges; i++)
        {
            // Edges crowd at the beginning.
            double share = chance.Unit();
            long at = now + (long)(share * share * length * Millisecond) + 1000;
            last = Math.Max(last, at);
            timeline.At(at, () => Flip(operation));
        }

        timeline.At(last + 1000, () =>
        {
            if (operation == _operation)
            {
                Set(_wanted);
            }
        });
    }

    private bool _level;

    private void Flip(int operation)
    {
        if (operation == _operation)
        {
            Set(!_level);
        }
    }

    private void Set(bool level)
    {
        _level = level;
        Module.SetContact(Plan.Input, level);
    }
}
