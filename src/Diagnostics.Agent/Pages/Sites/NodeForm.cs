using System.Globalization;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Wording;
using Microsoft.AspNetCore.Http;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages.Sites;

/// <summary>What stands in the form of a node, as it was written.</summary>
/// <param name="Token">What the person saw when the form was opened.</param>
/// <param name="Name">What people call it.</param>
/// <param name="Type">What it is.</param>
/// <param name="Serial">Its serial number.</param>
/// <param name="Firmware">Its firmware.</param>
/// <param name="Inputs">Known ones and empty rows.</param>
/// <param name="Outputs">Known ones and empty rows.</param>
internal sealed record NodeForm(string Token, string Name, string Type, string Serial, string Firmware, IReadOnlyList<InputRow> Inputs, IReadOnlyList<OutputRow> Outputs)
{
    public const string NameField = "name";
    public const string TypeField = "type";
    public const string SerialField = "serial";
    public const string FirmwareField = "firmware";

    /// <summary>More empty rows, without saving.</summary>
    public const string More = "more";

    /// <summary>The node goes out of the record.</summary>
    public const string Remove = "remove";

    public static string Field(string name, int row) => string.Create(CultureInfo.InvariantCulture, $"{name}-{row}");

    public static string Field(string name, int row, int part) => string.Create(CultureInfo.InvariantCulture, $"{name}-{row}-{part}");

    public static NodeForm Of(SiteView view, BuiltNode node) => new NodeForm(
        view.Held.Token,
        node.Name ?? string.Empty,
        node.Type ?? string.Empty,
        node.Serial ?? string.Empty,
        node.Firmware ?? string.Empty,
        [.. node.Inputs.OrderBy(input => input.Input).Select(input => new InputRow(Number(input.Input), true, input.Name ?? string.Empty, AsBuiltWords.Of(input.Kind) ?? string.Empty))],
        [
            .. node.Outputs.OrderBy(output => output.Output).Select(output => new OutputRow(
                Number(output.Output), true, output.Name ?? string.Empty, output.Kind ?? string.Empty, [.. output.SwitchedBy.Select(by => new SwitchRow(Number(by.Node, by.Input), by.Press ?? string.Empty))])),
        ]).WithSpareRows();

    public static NodeForm Read(IFormCollection form)
    {
        string Get(string field) => form[field].ToString();
        List<InputRow> inputs = [];
        for (int row = 0; form.ContainsKey(Field(InputRow.NumberField, row)); row++)
        {
            inputs.Add(new(Get(Field(InputRow.NumberField, row)), form.ContainsKey(Field(InputRow.KnownField, row)), Get(Field(InputRow.NameField, row)), Get(Field(InputRow.KindField, row))));
        }

        List<OutputRow> outputs = [];
        for (int row = 0; form.ContainsKey(Field(OutputRow.NumberField, row)); row++)
        {
            List<SwitchRow> switchers = [];
            for (int part = 0; form.ContainsKey(Field(SwitchRow.SourceField, row, part)); part++)
            {
                switchers.Add(new(Get(Field(SwitchRow.SourceField, row, part)), Get(Field(SwitchRow.PressField, row, part))));
            }

            outputs.Add(new(
                Get(Field(OutputRow.NumberField, row)), form.ContainsKey(Field(OutputRow.KnownField, row)), Get(Field(OutputRow.NameField, row)), Get(Field(OutputRow.KindField, row)), switchers));
        }

        return new(Get(SiteLinks.TokenField), Get(NameField), Get(TypeField), Get(SerialField), Get(FirmwareField), inputs, outputs);
    }

    /// <summary>Rows for what isn't known yet: where all are filled, more.</summary>
    public NodeForm WithSpareRows() => this with
    {
        Inputs = [.. Inputs.Where(row => !row.IsEmpty), .. Enumerable.Repeat(new InputRow(string.Empty, false, string.Empty, string.Empty), Limits.SpareRows)],
        Outputs =
        [
            .. Outputs.Where(row => !row.IsEmpty).Select(row => row with { Switchers = [.. row.Switchers.Where(by => !by.IsEmpty), new(string.Empty, string.Empty)] }),
            .. Enumerable.Repeat(new OutputRow(string.Empty, false, string.Empty, string.Empty, [new(string.Empty, string.Empty)]), Limits.SpareRows),
        ],
    };

    /// <summary>The node as it is written here; what isn't written here (what PDOs carry) stays as it was.</summary>
    public bool TryNode(BuiltNode before, out BuiltNode node, out Sentence? why)
    {
        node = before;
        List<BuiltInput> inputs = [];
        foreach (InputRow row in Inputs.Where(row => !row.IsEmpty))
        {
            if (!TryTerminal(row.Number, out int number) || inputs.Any(input => input.Input == number))
            {
                why = number > 0 ? Say($"Input {number} stands here twice.")
                    : SiteFields.IsNegative(row.Number) ? Say($"The number of an input must not be negative, as “{row.Number}” is: they are counted from 1 to {AsBuiltLimits.HighestInput}.")
                    : Say($"“{row.Number}” is no number of an input: they are counted from 1 to {AsBuiltLimits.HighestInput}.");
                return false;
            }

            // A row that says nothing but its number is one that was heard, or one that was emptied to be rid of it.
            if (SiteFields.Text(row.Name) is not null || row.Kind.Length > 0)
            {
                inputs.Add(new(number, SiteFields.Text(row.Name), AsBuiltWords.InputKindOf(row.Kind)));
            }
        }

        List<BuiltOutput> outputs = [];
        foreach (OutputRow row in Outputs.Where(row => !row.IsEmpty))
        {
            if (!TryTerminal(row.Number, out int number) || outputs.Any(output => output.Output == number))
            {
                why = number > 0 ? Say($"Output {number} stands here twice.")
                    : SiteFields.IsNegative(row.Number) ? Say($"The number of an output must not be negative, as “{row.Number}” is: they are counted from 1 to {AsBuiltLimits.HighestInput}.")
                    : Say($"“{row.Number}” is no number of an output: they are counted from 1 to {AsBuiltLimits.HighestInput}.");
                return false;
            }

            List<SwitchedBy> switchers = [];
            foreach (SwitchRow by in row.Switchers.Where(by => !by.IsEmpty))
            {
                if (!by.TryRead(out SwitchedBy? read))
                {
                    why = Say($"“{by.Source}” names no input: write node and input with a point between, as 5.1 for input 1 of node 5.");
                    return false;
                }

                switchers.Add(read!);
            }

            string? kind = AsBuiltWords.OutputKinds.Contains(row.Kind) ? row.Kind : null;
            if (SiteFields.Text(row.Name) is not null || kind is not null || switchers.Count > 0)
            {
                outputs.Add(new(number, SiteFields.Text(row.Name), kind, switchers));
            }
        }

        node = before with
        {
            Name = SiteFields.Text(Name),
            Type = SiteFields.Text(Type),
            Serial = SiteFields.Text(Serial),
            Firmware = SiteFields.Text(Firmware),
            Inputs = inputs,
            Outputs = outputs,
        };
        why = Texts(node).Select(part => SiteFields.Obstacle(part.Field, part.Text)).FirstOrDefault(obstacle => obstacle is not null);
        return why is null;
    }

    /// <summary>What people wrote in words, by what the fields are called.</summary>
    private static IEnumerable<(Sentence Field, string? Text)> Texts(BuiltNode node) =>
    [
        (Say($"Name"), node.Name),
        (Say($"Type"), node.Type),
        (Say($"Serial number"), node.Serial),
        (Say($"Firmware"), node.Firmware),
        .. node.Inputs.Select(input => (Say($"Name of input {input.Input}"), input.Name)),
        .. node.Outputs.Select(output => (Say($"Name of output {output.Output}"), output.Name)),
    ];

    internal static bool TryTerminal(string text, out int number)
    {
        bool isNumber = int.TryParse(text.Trim(), NumberStyles.None, CultureInfo.InvariantCulture, out number) && number is >= 1 and <= AsBuiltLimits.HighestInput;
        number = isNumber ? number : 0;
        return isNumber;
    }

    private static string Number(int number) => number.ToString(CultureInfo.InvariantCulture);

    private static string Number(int node, int input) => string.Create(CultureInfo.InvariantCulture, $"{node}.{input}");
}

/// <summary>An input, as the form has it.</summary>
/// <param name="Number">Counted from 1.</param>
/// <param name="IsKnown">Its number isn't asked for.</param>
/// <param name="Name">What people call it.</param>
/// <param name="Kind">A word of the record, or empty.</param>
internal sealed record InputRow(string Number, bool IsKnown, string Name, string Kind)
{
    public const string NumberField = "input";
    public const string KnownField = "input-known";
    public const string NameField = "input-name";
    public const string KindField = "input-kind";

    public bool IsEmpty => !IsKnown && string.IsNullOrWhiteSpace(Number) && string.IsNullOrWhiteSpace(Name) && Kind.Length == 0;
}

/// <summary>An output, as the form has it.</summary>
/// <param name="Number">Counted from 1.</param>
/// <param name="IsKnown">Its number isn't asked for.</param>
/// <param name="Name">What people call it.</param>
/// <param name="Kind">A word of the record, or empty.</param>
/// <param name="Switchers">What switches it.</param>
internal sealed record OutputRow(string Number, bool IsKnown, string Name, string Kind, IReadOnlyList<SwitchRow> Switchers)
{
    public const string NumberField = "output";
    public const string KnownField = "output-known";
    public const string NameField = "output-name";
    public const string KindField = "output-kind";

    public bool IsEmpty => !IsKnown && string.IsNullOrWhiteSpace(Number) && string.IsNullOrWhiteSpace(Name) && Kind.Length == 0 && Switchers.All(by => by.IsEmpty);
}

/// <summary>What switches an output, as the form has it: 5.1 is input 1 of node 5.</summary>
internal sealed record SwitchRow(string Source, string Press)
{
    public const string SourceField = "by";
    public const string PressField = "press";

    public bool IsEmpty => string.IsNullOrWhiteSpace(Source);

    public bool TryRead(out SwitchedBy? by)
    {
        string[] parts = Source.Trim().Split('.');
        bool isRead = parts.Length == 2 & NodeForm.TryTerminal(parts[0], out int node) & NodeForm.TryTerminal(parts[^1], out int input) && node <= AsBuiltLimits.HighestAddress;
        by = isRead ? new(node, input, AsBuiltWords.Presses.Contains(Press) ? Press : null) : null;
        return isRead;
    }
}
