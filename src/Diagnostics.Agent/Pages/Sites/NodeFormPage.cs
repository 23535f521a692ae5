using System.Globalization;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages.Sites;

/// <summary>The page that names a node, its inputs and its outputs.</summary>
internal static class NodeFormPage
{
    /// <summary>Inputs that a field offers to choose from, those with names.</summary>
    private const int InputsOffered = 500;

    private const string Offered = "inputs-offered";

    private static readonly (string Word, Sentence Said)[] InputKinds =
        [("push-button", Say($"push button")), ("switch", Say($"switch")), ("contact", Say($"contact")), ("motion", Say($"motion"))];

    private static readonly (string Word, Sentence Said)[] OutputKinds = [("relay", Say($"relay")), ("dimmer", Say($"dimmer"))];

    private static readonly (string Word, Sentence Said)[] Presses = [("short", Say($"short press")), ("long", Say($"long press"))];

    public static LivePage Of(SiteView view, DraftNode node, NodeForm form, Sentence? notice) => new(
        Say($"Names of node {node.Node.Address}"),
        SiteLinks.Node(node.Node.Address),
        [PagePiece.Of("form", page => Write(page, view, node, form, notice))]);

    private static void Write(HtmlWriter page, SiteView view, DraftNode node, NodeForm form, Sentence? notice)
    {
        page.Add($"<section class=\"acts site\"><p class=\"source\"><a href=\"{SiteLinks.Site}\">{Say($"The site")}</a></p><h1>{Say($"Node {node.Node.Address}")}</h1><p>{SitePages.Standing(node.Standing)}</p>");
        SiteFields.Notice(page, notice);
        SiteFields.NoLog(page, view);
        SiteFields.Begin(page, view, SiteLinks.Node(node.Node.Address), form.Token);
        SiteFields.Line(page, NodeForm.NameField, Say($"Name, as people here say it"), form.Name);
        SiteFields.Line(page, NodeForm.TypeField, Say($"Type"), form.Type);
        SiteFields.Line(page, NodeForm.SerialField, Say($"Serial number"), form.Serial);
        SiteFields.Line(page, NodeForm.FirmwareField, Say($"Firmware"), form.Firmware);
        page.Add($"<p class=\"limits\">{Say($"What it said of itself is filled in where nobody wrote anything. Save it only if it is the device that belongs here.")}</p>");
        page.Add($"<h2>{Say($"Inputs")}</h2><p class=\"limits\">{Say($"Operate one, and the page of this node shows which number it has.")}</p>");
        for (int row = 0; row < form.Inputs.Count; row++)
        {
            Input(page, form.Inputs[row], row);
        }

        page.Add($"<h2>{Say($"Outputs")}</h2>");
        for (int row = 0; row < form.Outputs.Count; row++)
        {
            Output(page, form.Outputs[row], row);
        }

        page.Add($"<p class=\"limits\">{Say($"“Switched by” takes node and input with a point between: 5.1 is input 1 of node 5. Inputs with names are offered.")}</p>");
        Offer(page, view);
        page.Add($"<p class=\"entry\"><button class=\"minor\" name=\"{SiteLinks.DoField}\" value=\"{NodeForm.More}\">{Say($"More empty rows")}</button></p>");
        if (view.Book.CanSave && node.Standing != DraftStanding.HeardOnly)
        {
            page.Add($"<details id=\"take-out\"><summary>{Say($"Take it out of the record")}</summary><p>{Say($"For a module that is gone for good. The version before it is kept.")}</p><p class=\"entry\"><button class=\"minor\" name=\"{SiteLinks.DoField}\" value=\"{NodeForm.Remove}\">{Say($"Take node {node.Node.Address} out")}</button></p></details>");
        }

        SiteFields.End(page, view);
        page.Literal("</section>");
    }

    private static void Input(HtmlWriter page, InputRow row, int index)
    {
        page.Literal("<fieldset>");
        Numbered(page, row.IsKnown, row.Number, index, InputRow.NumberField, InputRow.KnownField, Say($"Input {row.Number}"), Say($"Another input"), Say($"Number of the input"));
        SiteFields.Line(page, NodeForm.Field(InputRow.NameField, index), Say($"Name"), row.Name);
        SiteFields.Choice(page, NodeForm.Field(InputRow.KindField, index), Say($"Kind"), row.Kind, InputKinds, Say($"not stated"));
        page.Literal("</fieldset>");
    }

    private static void Output(HtmlWriter page, OutputRow row, int index)
    {
        page.Literal("<fieldset>");
        Numbered(page, row.IsKnown, row.Number, index, OutputRow.NumberField, OutputRow.KnownField, Say($"Output {row.Number}"), Say($"Another output"), Say($"Number of the output"));
        SiteFields.Line(page, NodeForm.Field(OutputRow.NameField, index), Say($"Name"), row.Name);
        SiteFields.Choice(page, NodeForm.Field(OutputRow.KindField, index), Say($"Kind"), row.Kind, OutputKinds, Say($"not stated"));
        for (int part = 0; part < row.Switchers.Count; part++)
        {
            string source = NodeForm.Field(SwitchRow.SourceField, index, part);
            page.Add($"<p class=\"field\"><label for=\"{source}\">{Say($"Switched by")}</label>");
            SiteFields.Bare(page, source, row.Switchers[part].Source, list: Offered);
            page.Literal("</p>");
            SiteFields.Choice(page, NodeForm.Field(SwitchRow.PressField, index, part), Say($"On"), row.Switchers[part].Press, Presses, Say($"any press"));
        }

        page.Literal("</fieldset>");
    }

    private static void Numbered(HtmlWriter page, bool isKnown, string number, int index, string field, string knownField, Sentence known, Sentence another, Sentence label)
    {
        page.Add($"<legend>{(isKnown ? known : another)}</legend>");
        string name = NodeForm.Field(field, index);
        if (isKnown)
        {
            page.Add($"<input type=\"hidden\" name=\"{name}\" value=\"{number}\"><input type=\"hidden\" name=\"{NodeForm.Field(knownField, index)}\" value=\"1\">");
        }
        else
        {
            SiteFields.Line(page, name, label, number, isNumber: true);
        }
    }

    private static void Offer(HtmlWriter page, SiteView view)
    {
        page.Add($"<datalist id=\"{Offered}\">");
        foreach ((BuiltNode node, BuiltInput input) in view.Draft.Nodes.SelectMany(draft => draft.Node.Inputs.Where(input => input.Name is not null).Select(input => (draft.Node, input))).Take(InputsOffered))
        {
            string value = string.Create(CultureInfo.InvariantCulture, $"{node.Address}.{input.Input}");
            Sentence label = node.Name is { } name ? Say($"{input.Name}, {name}") : Say($"{input.Name}, node {node.Address}");
            page.Add($"<option value=\"{value}\">{label}</option>");
        }

        page.Literal("</datalist>");
    }
}
