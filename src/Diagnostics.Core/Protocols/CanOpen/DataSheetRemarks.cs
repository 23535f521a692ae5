using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Protocols.CanOpen;

/// <summary>
/// Says once where a data sheet rests on an assumption, and where what was heard wins over it. Made anew for each report, from what the decoder knows
/// of each node; one sentence for all nodes that have the same to tell.
/// </summary>
internal sealed class DataSheetRemarks(DataSheets sheets, SiteNames names)
{
    /// <summary>More names would hide the sentence they stand in.</summary>
    private const int NamesInASentence = 8;

    private readonly List<Sentence> _single = [];
    private readonly List<(string Sheet, int Node)> _assumed = [];
    private readonly List<(string Sheet, int Node)> _overruled = [];
    private readonly List<int> _unread = [];
    private readonly List<int> _undescribed = [];
    private readonly HashSet<string> _used = new(StringComparer.Ordinal);
    private bool _isAnyHeard;

    /// <summary>What holds for a node. <paramref name="isUnread"/> = a PDO came that the sheets left contradict each other about.</summary>
    public void Add(int node, in HeardDevice heard, in SheetChoice choice, bool isUnread, bool isPdoHeard)
    {
        _isAnyHeard |= isPdoHeard;
        if (sheets.MadeFor(node) is { } made && DataSheets.IsContradicted(made, heard))
        {
            _single.Add(Say($"{Capital(names.Node(node))} says that it is another device than {made.Name} describes ({Difference(made, heard)}). What was heard wins; the file isn't used."));
        }

        if (choice.Sheet is { } one)
        {
            _used.Add(one.Name);
            if (!choice.IsSure && isPdoHeard)
            {
                _assumed.Add((one.Name, node));
            }
        }

        foreach (DataSheet candidate in sheets.Kinds(choice.Candidates))
        {
            _used.Add(candidate.Name);
        }

        if (isUnread)
        {
            _unread.Add(node);
        }

        if (heard.Excluded != 0 && !choice.IsAny)
        {
            _undescribed.Add(node);
        }
    }

    /// <summary>What was heard of one PDO of that node. <paramref name="refuted"/> as <see cref="CanOpenDecoder"/> keeps it, 0 = nothing.</summary>
    public void AddPdo(int node, in SheetChoice choice, bool isTransmit, int number, bool isOverruled, byte refuted)
    {
        if (choice.Sheet is not { } sheet)
        {
            return;
        }

        if (isOverruled && !_overruled.Contains((sheet.Name, node)))
        {
            _overruled.Add((sheet.Name, node));
        }

        if (refuted != 0)
        {
            Sentence pdo = Say($"{(isTransmit ? "TPDO" : "RPDO")}{number} of {names.Node(node)}");
            _single.Add(refuted > 8
                ? Say($"{pdo} comes on its predefined identifier, from where {sheet.Name} has moved it. What was heard wins; nothing is read from this PDO.")
                : Say($"{pdo} has {Bytes(refuted)}, but by {sheet.Name} it has {Bytes(sheet.Pdo(isTransmit, number).Bytes ?? 0)}. What was heard wins; nothing is read from this PDO."));
        }
    }

    public List<Sentence> ToSentences()
    {
        List<Sentence> sentences = [.. _single];
        Each(_overruled, (sheet, nodes) => Say($"What was read from {nodes}, or written there, about PDOs isn't what {sheet} says. What was heard wins."));
        if (_undescribed.Count > 0)
        {
            sentences.Add(sheets.OfKinds.Count == 1
                ? Say($"{sheets.OfKinds[0].Name} doesn't describe {NamesOf(_undescribed)}: PDOs were heard that don't fit. What was heard wins; they are read as without data sheet.")
                : Say($"None of the data sheets describes {NamesOf(_undescribed)}: PDOs were heard that don't fit. What was heard wins; they are read as without data sheet."));
        }

        Each(_assumed, (sheet, nodes) => Say($"{sheet} is taken for {nodes}: nothing that was heard speaks against it, but no identity was heard either."));
        if (_unread.Count > 0)
        {
            sentences.Add(Say($"More than one data sheet may hold for {NamesOf(_unread)}, and they don't agree; PDOs on which they differ are not read. Give the DCF of the node, or write the product's name as its “type” into the as-built record."));
        }

        string[] idle = [.. sheets.OfKinds.Select(sheet => sheet.Name).Where(name => !_used.Contains(name))];
        if (_isAnyHeard && idle.Length > 0 && (_undescribed.Count == 0 || sheets.OfKinds.Count > 1))
        {
            sentences.Add(Say($"{string.Join(", ", idle)}: no node that was heard is such a device."));
        }

        return sentences;

        void Each(List<(string Sheet, int Node)> told, Func<string, Sentence, Sentence> sentence) =>
            sentences.AddRange(told.GroupBy(one => one.Sheet, StringComparer.Ordinal).Select(group => sentence(group.Key, NamesOf([.. group.Select(one => one.Node)]))));
    }

    private static Sentence Bytes(int count) => Say(count, $"1 byte", $"{count} bytes");

    private static Sentence Difference(DataSheet sheet, in HeardDevice heard) =>
        sheet.Vendor is uint vendor && heard.Vendor is uint other && vendor != other ? Say($"vendor 0x{other:X8}, the file has 0x{vendor:X8}")
        : sheet.Product is uint product && heard.Product is uint another && product != another ? Say($"product 0x{another:X8}, the file has 0x{product:X8}")
        : Say($"profile {(ushort)(heard.DeviceType ?? 0)}, the file has {(ushort)(sheet.DeviceType ?? 0)}");

    private Sentence NamesOf(List<int> nodes) => nodes.Count <= NamesInASentence
        ? names.Nodes(nodes)
        : Say($"{Listed([.. nodes.Take(NamesInASentence).Select(names.Node)])} and {nodes.Count - NamesInASentence} more");
}
