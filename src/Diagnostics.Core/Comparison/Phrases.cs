using System.Globalization;
using Diagnostics.Core.Detectors;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Core.Comparison;

/// <summary>What a finding is in a few words, so that a sentence can hold several: "damaged frames of node 9".</summary>
internal static class Phrases
{
    /// <summary>Each with its place behind it: "of" where that reads better than "on".</summary>
    private static readonly Dictionary<string, (string Words, string Joint)> Kinds = new(StringComparer.Ordinal)
    {
        [Catalogue.NoTraffic.Name] = ("no traffic", "on"),
        [Catalogue.LoadHigh.Name] = ("too much load", "on"),
        [Catalogue.Flood.Name] = ("a flood of frames", "from"),
        [Catalogue.ErrorRate.Name] = ("errors", "on"),
        [Catalogue.ErrorBurst.Name] = ("bursts of errors", "on"),
        [Catalogue.ErrorPassive.Name] = ("our own adapter error-passive", "on"),
        [Catalogue.BusOff.Name] = ("bus-off", "of"),
        [Catalogue.NoAcknowledge.Name] = ("frames that nobody acknowledges", "of"),
        [Catalogue.BitRateMismatch.Name] = ("a bit rate that doesn't match", "on"),
        [Catalogue.BusNotSeen.Name] = ("frames lost on our own side", "on"),
        [Catalogue.BusRestarted.Name] = ("a restart of most of the site", "on"),
        [Catalogue.NodeSilent.Name] = ("silence", "of"),
        [Catalogue.NodeRestarted.Name] = ("restarts that nobody commanded", "of"),
        [Catalogue.NodeUnstable.Name] = ("coming and going", "of"),
        [Catalogue.DuplicateAddress.Name] = ("two devices on the address", "of"),
        [Catalogue.NodeErrors.Name] = ("damaged frames", "of"),
        [Catalogue.ReportsFault.Name] = ("a fault report", "of"),
        [Catalogue.NodeReplaced.Name] = ("another device at the address", "of"),
        [Catalogue.FirmwareDiffers.Name] = ("firmware that differs", "of"),
        [Catalogue.InputChatter.Name] = ("chatter", "of"),
        [Catalogue.InputFlapping.Name] = ("flapping", "of"),
        [Catalogue.InputStuck.Name] = ("no release", "of"),
        [Catalogue.SupplyLow.Name] = ("a low supply", "of"),
        [Catalogue.SupplyDip.Name] = ("dips of the supply", "of"),
        [Catalogue.LineLevel.Name] = ("wrong line voltages", "on"),
    };

    /// <summary>A log may hold findings of a later version: those go by their own name.</summary>
    public static bool Knows(string finding) => Kinds.ContainsKey(finding);

    /// <param name="finding">Of either side.</param>
    /// <param name="nameOf">How a node is called, without "node 9" before it; null = it has no name.</param>
    /// <param name="bus">Name of the bus where there are several; null where there is one.</param>
    public static string Of(FindingReport finding, Func<int, string?> nameOf, string? bus)
    {
        (string words, string joint) = Kinds.TryGetValue(finding.Finding, out (string, string) known) ? known : (finding.Finding, "of");
        List<string> place = [];
        if (finding.Input is int input)
        {
            place.Add(Text.Of($"input {input}"));
        }

        if (finding.Output is int output)
        {
            place.Add(Text.Of($"output {output}"));
        }

        if (finding.Node is int node)
        {
            place.Add(Node(node, nameOf(node)));
        }
        else if (FindingPairs.NodesOf(finding) is [_, ..] nodes)
        {
            place.Add("nodes " + string.Join(", ", nodes.Select(address => address.ToString(CultureInfo.InvariantCulture))));
        }

        if (finding.Segment is { Length: > 0 } segment)
        {
            place.Add("cable " + segment);
        }

        if (finding.Id is { Length: > 0 } id)
        {
            place.Add("identifier " + id);
        }

        string on = bus is null ? string.Empty : " on " + bus;
        return place.Count > 0 ? $"{words} {joint} {string.Join(" of ", place)}{on}"
            : bus is not null ? $"{words} {joint} {bus}"
            : joint == "of" ? words : $"{words} {joint} the bus";
    }

    public static string Node(int address, string? name) =>
        name is null ? Text.Of($"node {address}") : Text.Of($"node {address} “{name}”");

    public static string Times(long count) => count switch { 1 => "once", 2 => "twice", _ => Text.Of($"{count:N0} times") };

    /// <summary>The first three, and how many more.</summary>
    public static string List(IReadOnlyList<string> things)
    {
        const int Most = 3;
        return things.Count switch
        {
            0 => string.Empty,
            1 => things[0],
            <= Most => string.Join(", ", things.Take(things.Count - 1)) + " and " + things[^1],
            _ => Text.Of($"{string.Join(", ", things.Take(Most))} and {things.Count - Most} more"),
        };
    }
}
