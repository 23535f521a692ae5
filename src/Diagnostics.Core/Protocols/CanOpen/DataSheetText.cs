using System.Globalization;
using System.Text;

namespace Diagnostics.Core.Protocols.CanOpen;

/// <summary>One value of a data sheet as it stands there, and where; <paramref name="OtherLine"/> is the line of a second, different one, or 0.</summary>
internal readonly record struct SheetValue(string Text, int Line, int OtherLine = 0);

/// <summary>
/// The sections of a data sheet that the analysis uses. CiA 306-1's form, from memory: INI, <c>[Section]</c>, <c>Key=Value</c>, names without regard
/// to case, comments behind <c>;</c>. A section that comes twice is one section. What isn't of this form is passed over, as other sections hold free text.
/// </summary>
internal sealed class DataSheetText
{
    private static readonly string[] _general =
        ["DEVICEINFO", "FILEINFO", "DEVICECOMISSIONING", "MANDATORYOBJECTS", "OPTIONALOBJECTS", "MANUFACTUREROBJECTS"];

    private readonly Dictionary<string, Dictionary<string, SheetValue>> _sections = new(StringComparer.OrdinalIgnoreCase);
    private readonly Dictionary<string, int> _lines = new(StringComparer.OrdinalIgnoreCase);

    public DataSheetText(ReadOnlySpan<byte> bytes)
    {
        string text = Decode(bytes);
        Dictionary<string, SheetValue>? section = null;
        int place = 0;
        while (place < text.Length)
        {
            Lines++;
            ReadOnlySpan<char> line = NextLine(text, ref place).Trim();
            if (line.IsEmpty || line[0] == ';' || line.Length > CanOpenLimits.DataSheetLine)
            {
                continue;
            }

            if (line[0] == '[')
            {
                int end = line.IndexOf(']');
                section = end < 0 ? null : Open(line[1..end].Trim());
            }
            else if (section is not null && line.IndexOf('=') is > 0 and int equals)
            {
                Take(section, line[..equals].TrimEnd().ToString(), line[(equals + 1)..].TrimStart().ToString());
            }
        }
    }

    /// <summary>Lines of the whole text.</summary>
    public int Lines { get; private set; }

    /// <summary>Line in which the section begins; 0 = there is none.</summary>
    public int LineOf(string section) => _lines.GetValueOrDefault(section);

    public SheetValue? Value(string section, string key) =>
        _sections.TryGetValue(section, out Dictionary<string, SheetValue>? values) && values.TryGetValue(key, out SheetValue value) ? value : null;

    /// <summary>Every value of a section, in no order that means anything.</summary>
    public IEnumerable<SheetValue> Values(string section) => _sections.TryGetValue(section, out Dictionary<string, SheetValue>? values) ? values.Values : [];

    /// <summary>The standard leaves the encoding open; old tools write Latin-1, new ones UTF-8, which Latin-1 with umlauts never is by chance.</summary>
    private static string Decode(ReadOnlySpan<byte> bytes)
    {
        ReadOnlySpan<byte> text = bytes.StartsWith("\uFEFF"u8) ? bytes[3..] : bytes;
        return System.Text.Unicode.Utf8.IsValid(text) ? Encoding.UTF8.GetString(text) : Encoding.Latin1.GetString(text);
    }

    /// <summary>Lines end with CR LF, LF or CR, and with nothing else: in Latin-1 text the other separators of Unicode are letters of Windows.</summary>
    private static ReadOnlySpan<char> NextLine(string text, ref int place)
    {
        ReadOnlySpan<char> rest = text.AsSpan(place);
        int end = rest.IndexOfAny('\r', '\n');
        if (end < 0)
        {
            place = text.Length;
            return rest;
        }

        place += end + (rest[end] == '\r' && end + 1 < rest.Length && rest[end + 1] == '\n' ? 2 : 1);
        return rest[..end];
    }

    private Dictionary<string, SheetValue>? Open(ReadOnlySpan<char> name)
    {
        if (!IsUsed(name))
        {
            return null;
        }

        // The standard itself writes one m, many tools the right spelling.
        string key = name.Equals("DeviceCommissioning", StringComparison.OrdinalIgnoreCase) ? "DeviceComissioning" : name.ToString();
        if (!_sections.TryGetValue(key, out Dictionary<string, SheetValue>? values))
        {
            values = new(StringComparer.OrdinalIgnoreCase);
            _sections.Add(key, values);
            _lines.Add(key, Lines);
        }

        return values;
    }

    private void Take(Dictionary<string, SheetValue> section, string key, string text)
    {
        if (!section.TryGetValue(key, out SheetValue known))
        {
            section.Add(key, new(text, Lines));
        }
        else if (known.Text != text && known.OtherLine == 0)
        {
            section[key] = known with { OtherLine = Lines };
        }
    }

    private static bool IsUsed(ReadOnlySpan<char> name)
    {
        foreach (string general in _general)
        {
            if (name.Equals(general, StringComparison.OrdinalIgnoreCase))
            {
                return true;
            }
        }

        if (name.Equals("DeviceCommissioning", StringComparison.OrdinalIgnoreCase))
        {
            return true;
        }

        // 1A00, 1A00sub3, 1A00Value.
        return name.Length >= 4
            && ushort.TryParse(name[..4], NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture, out ushort index)
            && (index is 0x1000 or 0x1018 || (index is >= 0x1400 and < 0x1C00 && (index & 0x1FF) < CanOpenLimits.PdosPerDirection))
            && (name.Length == 4 || name[4..].StartsWith("sub", StringComparison.OrdinalIgnoreCase) || name[4..].Equals("Value", StringComparison.OrdinalIgnoreCase));
    }
}
