using Diagnostics.Core.Detectors;

namespace Diagnostics.Core.Comparison;

/// <summary>One bus as both sides know it; null where a side didn't listen to it.</summary>
internal sealed record BusPair(ObservedBus? Before, ObservedBus? After)
{
    public string Name => (Before ?? After)!.Interface;

    /// <summary>Frames were heard on both sides, but nodes recognised on one only: whether both are of one bus isn't known then.</summary>
    public bool IsKnownOnOneSide => this is { Before.Totals.Frames: > 0, After.Totals.Frames: > 0 } && (Before.Nodes.Count == 0) != (After.Nodes.Count == 0);

    /// <summary>The name that a node has on either side.</summary>
    public string? NameOf(int address) => NameOn(After, address) ?? NameOn(Before, address);

    private static string? NameOn(ObservedBus? bus, int address) => bus?.Nodes.FirstOrDefault(node => node.Address == address)?.Name;
}

/// <summary>
/// Which bus of one side is which of the other. Interfaces go by name; where each side has one only, they are the same bus whatever it is called, since a trace and a
/// board name it as they like.
/// </summary>
internal static class BusPairs
{
    /// <summary>With fewer serial numbers known on both sides, all of them may have been replaced.</summary>
    private const int SerialsNeeded = 3;

    public static IReadOnlyList<BusPair> Of(ObservedPeriod before, ObservedPeriod after)
    {
        if (before.Buses is [var one] && after.Buses is [var other])
        {
            return [new(one, other)];
        }

        return
        [
            .. before.Buses.Select(bus => new BusPair(bus, after.Buses.FirstOrDefault(candidate => candidate.Interface == bus.Interface))),
            .. after.Buses.Where(bus => before.Buses.All(candidate => candidate.Interface != bus.Interface)).Select(bus => new BusPair(null, bus)),
        ];
    }

    /// <summary>Why the two sides can't be compared at all, as words behind a colon; null where they can.</summary>
    public static string? Mismatch(ObservedPeriod before, ObservedPeriod after)
    {
        BusPair[] pairs = [.. Of(before, after).Where(pair => pair is { Before: not null, After: not null })];
        if (pairs.Length == 0)
        {
            return before.Buses.Count == 0 || after.Buses.Count == 0
                ? null
                : $"they have no interface in common ({Names(before)}; {Names(after)}), so which bus is which isn't known";
        }

        BusPair[] known = [.. pairs.Where(pair => pair.Before!.Nodes.Count > 0 && pair.After!.Nodes.Count > 0)];
        if (known.Length > 0 && known.All(pair => !Addresses(pair.Before!).Intersect(Addresses(pair.After!)).Any()))
        {
            return $"not one node is on both sides (before: {Nodes(known, pair => pair.Before!)}; after: {Nodes(known, pair => pair.After!)}), so they aren't of the same site";
        }

        (string Before, string After)[] serials =
        [
            .. known.SelectMany(pair => pair.Before!.Nodes.Join(pair.After!.Nodes, node => node.Address, node => node.Address, (earlier, later) => (earlier.Serial, later.Serial)))
                .Where(both => both.Item1 is not null && both.Item2 is not null).Select(both => (both.Item1!, both.Item2!)),
        ];
        if (serials.Length >= SerialsNeeded && serials.All(both => both.Before != both.After))
        {
            return Text.Of($"all {serials.Length} serial numbers that are known on both sides differ, so they aren't of the same site");
        }

        BusPair[] unknown = [.. pairs.Where(pair => pair.Before is { Nodes.Count: 0, Identifiers.Count: > 0 } && pair.After is { Nodes.Count: 0, Identifiers.Count: > 0 })];
        return known.Length == 0 && unknown.Length > 0 && unknown.All(pair => !pair.Before!.Identifiers!.Select(identifier => identifier.Id).Intersect(pair.After!.Identifiers!.Select(identifier => identifier.Id)).Any())
            ? "not one identifier is on both sides, so they aren't of the same site"
            : null;
    }

    private static string Names(ObservedPeriod period) => string.Join(", ", period.Buses.Select(bus => bus.Interface));

    private static IEnumerable<int> Addresses(ObservedBus bus) => bus.Nodes.Select(node => node.Address);

    private static string Nodes(BusPair[] pairs, Func<BusPair, ObservedBus> side)
    {
        const int Most = 8;
        int[] addresses = [.. pairs.SelectMany(pair => Addresses(side(pair))).Distinct().Order()];
        return Text.Of($"{string.Join(", ", addresses.Take(Most))}{(addresses.Length > Most ? " …" : string.Empty)}");
    }
}
