using Diagnostics.Simulation.Devices;
using Diagnostics.Simulation.Wires;

namespace Diagnostics.Simulation.Staging;

/// <summary>Presses buttons, opens doors, walks past motion sensors; lets children play.</summary>
internal sealed class People(Stage stage, Randomness chance)
{
    private const double Second = 1e9;
    private const double Hour = 3600 * Second;

    private readonly Dictionary<(int Node, int Input), Contact> _contacts = [];
    private readonly Timeline _timeline = stage.Timeline;

    public Contact? Find(int node, int input) => _contacts.GetValueOrDefault((node, input));

    public void Begin()
    {
        foreach (ModulePlan plan in stage.Site.Modules)
        {
            foreach (Contact contact in Furnish(stage.Modules[plan.Address]))
            {
                _contacts[(plan.Address, contact.Plan.Input)] = contact;
            }
        }
    }

    /// <summary>Gives a module its contacts and begins to use them.</summary>
    public IReadOnlyList<Contact> Furnish(Module module)
    {
        List<Contact> contacts = [];
        foreach (InputPlan input in module.Plan.Inputs)
        {
            Contact contact = new(module, input, _timeline, stage.Chance($"contact {module.Label}.{input.Input}"));
            contacts.Add(contact);
            WaitForUse(contact, stage.Chance($"use {module.Label}.{input.Input}"));
        }

        return contacts;
    }

    /// <summary>Thinning of a Poisson process at the busiest hour's rate.</summary>
    private void WaitForUse(Contact contact, Randomness use)
    {
        double perHour = contact.Plan.PressesPerHour * stage.Site.People.Activity;
        if (perHour <= 0)
        {
            return;
        }

        _timeline.At(_timeline.Now + (long)use.Exponential(Hour / perHour), () =>
        {
            if (use.Chance(LifeAt(stage.HourOf(_timeline.Now))))
            {
                Use(contact, use);
            }

            WaitForUse(contact, use);
        });
    }

    /// <summary>Share of the busiest time: a rise after opening, a peak in the afternoon, next to nothing at night.</summary>
    private double LifeAt(double hour)
    {
        PeoplePlan people = stage.Site.People;
        if (hour < people.OpensAtHour || hour >= people.ClosesAtHour)
        {
            return 0.03;
        }

        double day = (hour - people.OpensAtHour) / Math.Max(people.ClosesAtHour - people.OpensAtHour, 0.1);
        return 0.35 + (0.65 * Math.Sin(Math.PI * day));
    }

    private void Use(Contact contact, Randomness use)
    {
        switch (contact.Plan.Kind)
        {
            case ContactKind.PushButton:
                Press(contact, PressLength(use));
                break;
            case ContactKind.Switch:
                contact.Toggle();
                break;
            case ContactKind.Contact:
                Press(contact, use.Between(4, 40) * Second);
                break;
            case ContactKind.Motion:
            default:
                Press(contact, use.Between(8, 90) * Second);
                break;
        }
    }

    /// <summary>80–600 ms for a short press, now and then a long one.</summary>
    private static double PressLength(Randomness use) =>
        use.Chance(0.08)
            ? use.Between(0.7, 2.5) * Second
            : Math.Clamp(0.19 * Math.Exp(0.45 * use.Gaussian()), 0.08, 0.6) * Second;

    private void Press(Contact contact, double nanoseconds)
    {
        if (contact.IsClosed)
        {
            return;
        }

        contact.Operate(true);
        _timeline.At(_timeline.Now + (long)nanoseconds, () => contact.Operate(false));
    }

    public void Play(IReadOnlyList<int> nodes, long until)
    {
        Contact[] buttons = [.. _contacts.Values.Where(contact => nodes.Contains(contact.Module.Plan.Address) && contact.Plan.Kind == ContactKind.PushButton)];
        if (buttons.Length == 0 || _timeline.Now >= until)
        {
            return;
        }

        int fingers = 1 + chance.Below(3);
        for (int i = 0; i < fingers; i++)
        {
            Press(buttons[chance.Below(buttons.Length)], chance.Between(0.06, 0.4) * Second);
        }

        double pause = chance.Chance(0.06) ? chance.Between(2, 9) : chance.Between(0.12, 0.9);
        _timeline.At(_timeline.Now + (long)(pause * Second), () => Play(nodes, until));
    }
}
