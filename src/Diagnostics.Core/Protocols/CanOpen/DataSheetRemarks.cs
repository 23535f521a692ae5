using System.Globalization;
using Diagnostics.Core.AsBuilt;

namespace Diagnostics.Core.Protocols.CanOpen;

/// <summary>
/// Says once where a data sheet rests on an assumption, and where what was heard wins over it. Made anew for each report, from what the decoder knows
/// of each node; one sentence for all nodes that have the same to tell.
/// </summary>
internal sealed class DataSheetRemarks(DataSheets sheets, SiteNames names)
{
    /// <summary>More names would hide the sentence they stand in.</summary>
    private const int NamesInASentence = 8;

    private readonly List<string> _single = [];
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
            _single.Add($"{Capital(names.Node(node))} says that it is another device than {made.Name} describes ({Difference(made, heard)}). What was heard wins; the file isn't used.");
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
            string pdo = string.Create(CultureInfo.InvariantCulture, $"{(isTransmit ? 'T' : 'R')}PDO{number} of {names.Node(node)}");
            string said = refuted > 8
                ? $"comes on its predefined identifier, from where {sheet.Name} has moved it"
                : string.Create(CultureInfo.InvariantCulture, $"has {Bytes(refuted)}, but by {sheet.Name} it has {Bytes(sheet.Pdo(isTransmit, number).Bytes ?? 0)}");
            _single.Add($"{pdo} {said}. What was heard wins; nothing is read from this PDO.");
        }
    }

    public List<string> ToSentences()
    {
        List<string> sentences = [.. _single];
        Each(_overruled, (sheet, nodes) => $"What was read from {nodes}, or written there, about PDOs isn't what {sheet} says. What was heard wins.");
        if (_undescribed.Count > 0)
        {
            string none = sheets.OfKinds.Count == 1 ? $"{sheets.OfKinds[0].Name} doesn't describe" : "None of the data sheets describes";
            sentences.Add($"{none} {NamesOf(_undescribed)}: PDOs were heard that don't fit. What was heard wins; they are read as without data sheet.");
        }

        Each(_assumed, (sheet, nodes) => $"{sheet} is taken for {nodes}: nothing that was heard speaks against it, but no identity was heard either.");
        if (_unread.Count > 0)
        {
            sentences.Add($"More than one data sheet may hold for {NamesOf(_unread)}, and they don't agree; PDOs on which they differ are not read. Give the DCF of the node, or write the product's name as its “type” into the as-built record.");
        }

        string[] idle = [.. sheets.OfKinds.Select(sheet => sheet.Name).Where(name => !_used.Contains(name))];
        if (_isAnyHeard && idle.Length > 0 && (_undescribed.Count == 0 || sheets.OfKinds.Count > 1))
        {
            sentences.Add($"{string.Join(", ", idle)}: no node that was heard is such a device.");
        }

        return sentences;

        void Each(List<(string Sheet, int Node)> told, Func<string, string, string> sentence) =>
            sentences.AddRange(told.GroupBy(one => one.Sheet, StringComparer.Ordinal).Select(group => sentence(group.Key, NamesOf([.. group.Select(one => one.Node)]))));
    }

    private static string Bytes(int count) => count == 1 ? "1 byte" : string.Create(CultureInfo.InvariantCulture, $"{count} bytes");

    private static string Capital(string words) => char.ToUpperInvariant(words[0]) + words[1..];

    private static string Difference(DataSheet sheet, in HeardDevice heard) =>
        sheet.Vendor is uint vendor && heard.Vendor is uint other && vendor != other ? Told("vendor", other, vendor)
        : sheet.Product is uint product && heard.Product is uint another && product != another ? Told("product", another, product)
        : string.Create(CultureInfo.InvariantCulture, $"profile {(ushort)(heard.DeviceType ?? 0)}, the file has {(ushort)(sheet.DeviceType ?? 0)}");

    private static string Told(string what, uint heard, uint said) =>
        string.Create(CultureInfo.InvariantCulture, $"{what} 0x{heard:X8}, the file has 0x{said:X8}");

    private string NamesOf(List<int> nodes) => nodes.Count <= NamesInASentence
        ? names.Nodes(nodes)
        : string.Create(CultureInfo.InvariantCulture, $"{string.Join(", ", nodes.Take(NamesInASentence).Select(names.Node))} and {nodes.Count - NamesInASentence} more");
}
