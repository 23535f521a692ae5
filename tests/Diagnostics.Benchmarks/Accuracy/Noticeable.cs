using Diagnostics.Simulation;

namespace Diagnostics.Benchmarks.Accuracy;

/// <summary>What a site's plan says about how a fault can show: the rules by which a run counts as "cannot be noticed" instead of as missed.</summary>
internal static class Noticeable
{
    /// <summary>A typical frame of the sites, with stuffing.</summary>
    private const double FrameBits = 75;

    /// <summary>At nine in the morning, as a share of the busiest hour: what the people of the simulation do then.</summary>
    private const double LifeInTheMorning = 0.65;

    /// <summary>Frames per second that the node sends by a timer of its own.</summary>
    public static double OwnRate(ModulePlan module) =>
        (module.HeartbeatMilliseconds > 0 ? 1000.0 / module.HeartbeatMilliseconds : 0)
        + (module.EventTimerMilliseconds > 0 && module.Inputs.Count > 0 ? 1000.0 / module.EventTimerMilliseconds : 0);

    /// <summary>Frames per second that it sends regularly, by its own timers or because the controller asks.</summary>
    public static double RegularRate(Site site, ModulePlan module)
    {
        double rate = OwnRate(module);
        if (site.Controller is { } controller)
        {
            rate += controller.GuardMilliseconds > 0 ? 1000.0 / controller.GuardMilliseconds : 0;
            rate += controller.SyncMilliseconds > 0 && module.SynchronousEvery > 0 ? 1000.0 / (controller.SyncMilliseconds * module.SynchronousEvery) : 0;
        }

        return rate;
    }

    public static bool IsRegular(Site site, ModulePlan module) => RegularRate(site, module) > 0;

    public static bool AnyRegular(Site site, ModulePlan module) => site.Modules.Any(each => IsRegular(site, each));

    /// <summary>How many of the node's frames a bit error ratio spoils in that time, on average.</summary>
    public static double SpoiledFrames(Site site, ModulePlan module, double bitErrorRatio, TimeSpan time) =>
        RegularRate(site, module) * time.TotalSeconds * (1 - Math.Pow(1 - bitErrorRatio, FrameBits));

    /// <summary>How many of the node's frames a contact cuts that is open in this share of the time and moves every three milliseconds then.</summary>
    public static double CutFrames(Site site, ModulePlan module, double openRatio, TimeSpan time) =>
        RegularRate(site, module) * time.TotalSeconds * Cut(site, openRatio);

    /// <summary>
    /// How many of them show that they were cut. A node that didn't hear a request through its open contact begins no answer, so only what it sends by its own
    /// timers counts; and a contact that stays open cuts nothing: of an episode (50 ms on average) 31 ms pass before it does (each opening, one every
    /// 6.4 ms, is the lasting one with a chance of 8 %).
    /// </summary>
    public static double CutFramesHeard(Site site, ModulePlan module, double openRatio, TimeSpan time) =>
        OwnRate(module) * time.TotalSeconds * Cut(site, openRatio * 31 / 50);

    private static double Cut(Site site, double openRatio) => openRatio * Math.Min(1, FrameBits / site.BitRate / 0.003);

    /// <summary>Against a node that makes most of the traffic no count of errors can tell: noise would fall on its frames, too.</summary>
    public static bool MakesLessThanHalf(Site site, ModulePlan module) => RegularRate(site, module) < 0.5 * BusRate(site);

    /// <summary>Frames a second on the whole bus.</summary>
    public static double BusRate(Site site) => site.Modules.Sum(module => RegularRate(site, module));

    /// <summary>Whether so many commands to the node's outputs are to be expected in that time, a fifth of them at least to another output than the one that is used most.</summary>
    public static bool IsCommanded(Site site, ModulePlan module, double commands, TimeSpan time)
    {
        Dictionary<int, double> outputs = site.Rules
            .Where(rule => rule.ToNode == module.Address && !rule.LongPress)
            .GroupBy(rule => rule.ToOutput, Uses)
            .ToDictionary(uses => uses.Key, uses => uses.Sum());
        return outputs.Values.Sum() >= commands && outputs.Values.Max() <= 0.8 * outputs.Values.Sum();

        double Uses(SwitchRule rule) => site.Modules.Single(each => each.Address == rule.FromNode).Inputs.Single(input => input.Input == rule.FromInput) is { Kind: ContactKind.PushButton } button
            ? button.PressesPerHour * LifeInTheMorning * time.TotalHours : 0;
    }

    public static bool IsSupervised(Site site, ModulePlan module) => module.HeartbeatMilliseconds > 0 || site.Controller is { GuardMilliseconds: > 0 };

    /// <summary>The button or switch of the node that is used most; null where it has none.</summary>
    public static InputPlan? BusiestButton(ModulePlan module) =>
        module.Inputs.Where(input => input.Kind == ContactKind.PushButton).MaxBy(input => input.PressesPerHour);

    /// <summary>Whether at least so many uses of its busiest button are to be expected.</summary>
    public static bool IsUsed(ModulePlan module, double uses, TimeSpan time) =>
        BusiestButton(module) is { } button && button.PressesPerHour * LifeInTheMorning * time.TotalHours >= uses;
}
