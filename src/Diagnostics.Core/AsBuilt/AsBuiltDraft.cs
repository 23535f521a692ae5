using Diagnostics.Core.Reporting;

namespace Diagnostics.Core.AsBuilt;

/// <summary>
/// A draft of the as-built record from what was heard, so that nobody begins with an empty file. What a person wrote stays; what was heard and isn't in the
/// record is added, and gaps of a recorded node are filled with what it said of itself. Lengths, terminators, order and names are never made up.
/// </summary>
/// <param name="Record">The draft, as a record.</param>
/// <param name="Nodes">Its nodes, those of the record first and in its order, with how each stands.</param>
public sealed record AsBuiltDraft(AsBuiltRecord Record, IReadOnlyList<DraftNode> Nodes)
{
    private const string TwoOnOneAddress = "node.duplicate-address";

    /// <param name="report">What was heard.</param>
    /// <param name="terminals">Inputs and outputs that were heard.</param>
    /// <param name="record">What somebody wrote before; null = nothing.</param>
    public static AsBuiltDraft Of(Report report, IEnumerable<HeardTerminal> terminals, AsBuiltRecord? record)
    {
        // Where two devices use one address nobody knows which of them spoke.
        HashSet<int> doubtful = [.. report.Findings.Where(finding => finding.Finding == TwoOnOneAddress).Select(finding => finding.Node).OfType<int>()];
        ILookup<int, HeardTerminal> ends = terminals.Where(end => end.Number is >= 1 and <= AsBuiltLimits.HighestInput).Distinct().ToLookup(end => end.Node);
        Dictionary<int, NodeReport> heard = report.Buses.SelectMany(bus => bus.Nodes)
            .Where(node => node.Address is >= 1 and <= AsBuiltLimits.HighestAddress)
            .GroupBy(node => node.Address).ToDictionary(group => group.Key, group => group.First());
        List<DraftNode> nodes = [];
        foreach (BuiltNode built in record?.Nodes ?? [])
        {
            nodes.Add(heard.Remove(built.Address, out NodeReport? known)
                ? new(Filled(built, known, ends[built.Address], doubtful.Contains(built.Address)), DraftStanding.HeardAndRecorded)
                : new(built, DraftStanding.RecordedOnly));
        }

        foreach (NodeReport node in heard.Values.OrderBy(node => node.Address))
        {
            BuiltNode fresh = new() { Address = node.Address, Name = Text(node.Name) };
            nodes.Add(new(Filled(fresh, node, ends[node.Address], doubtful.Contains(node.Address)), DraftStanding.HeardOnly));
        }

        AsBuiltRecord draft = (record ?? new()) with { BitRate = record?.BitRate ?? BitRateOf(report), Nodes = [.. nodes.Select(node => node.Node)] };
        return new(draft, nodes);
    }

    private static BuiltNode Filled(BuiltNode node, NodeReport heard, IEnumerable<HeardTerminal> ends, bool isDoubtful) => node with
    {
        Type = node.Type ?? (isDoubtful ? null : Text(heard.Identity?.Name) ?? Text(heard.Identity?.Product)),
        Serial = node.Serial ?? (isDoubtful ? null : Text(heard.Identity?.Serial)),
        Firmware = node.Firmware ?? (isDoubtful ? null : Text(heard.Identity?.Firmware)),
        Inputs =
        [
            .. node.Inputs,
            .. ends.Where(end => !end.IsOutput && node.Inputs.All(input => input.Input != end.Number)).OrderBy(end => end.Number).Select(end => new BuiltInput(end.Number, null, InputKind.Unknown)),
        ],
        Outputs =
        [
            .. node.Outputs,
            .. ends.Where(end => end.IsOutput && node.Outputs.All(output => output.Output != end.Number)).OrderBy(end => end.Number).Select(end => new BuiltOutput(end.Number, null, null, [])),
        ],
    };

    /// <summary>Only what the interface or the user says: a rate that was found by listening needn't be written down to be found again.</summary>
    private static int? BitRateOf(Report report) =>
        report.Buses is [{ BitRateSource: "interface" or "option", BitRate: >= AsBuiltLimits.LowestBitRate and <= AsBuiltLimits.HighestBitRate } bus] ? bus.BitRate : null;

    /// <summary>Devices say anything; a record holds short lines.</summary>
    private static string? Text(string? said)
    {
        string line = string.Concat((said ?? string.Empty).EnumerateRunes().Select(rune => System.Text.Rune.IsControl(rune) ? " " : rune.ToString())).Trim();
        if (line.Length > AsBuiltLimits.TextCharacters)
        {
            int cut = char.IsHighSurrogate(line[AsBuiltLimits.TextCharacters - 1]) ? AsBuiltLimits.TextCharacters - 1 : AsBuiltLimits.TextCharacters;
            line = line[..cut].TrimEnd();
        }

        return line.Length == 0 ? null : line;
    }
}

/// <summary>A node of a draft.</summary>
public sealed record DraftNode(BuiltNode Node, DraftStanding Standing);

/// <summary>How a node of a draft stands.</summary>
public enum DraftStanding
{
    HeardAndRecorded,

    /// <summary>Heard, not in the record.</summary>
    HeardOnly,

    /// <summary>In the record, not heard.</summary>
    RecordedOnly,
}

/// <summary>An input or output that was heard, numbered as the object dictionary does.</summary>
public readonly record struct HeardTerminal(int Node, bool IsOutput, int Number);
