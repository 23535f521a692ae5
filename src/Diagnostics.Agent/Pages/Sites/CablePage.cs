using System.Globalization;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages.Sites;

/// <summary>The page of the cable: the site's name, what lies on the cable in which order, the metres between, the terminators at its ends, our clip.</summary>
internal static class CablePage
{
    /// <param name="view">The site.</param>
    /// <param name="form">What stands in the form.</param>
    /// <param name="notice">What keeps it from being saved; null = nothing.</param>
    /// <param name="pressed">The button that was pressed, and the place that it moved, which get the focus so that a keyboard can go on; null = none.</param>
    public static LivePage Of(SiteView view, CableForm form, Sentence? notice, (string What, int Place)? pressed = null) => new(
        Say($"The cable"), SiteLinks.Cable, [PagePiece.Of("form", page => Write(page, view, form, notice, pressed))]);

    /// <summary>Nodes of the draft that don't lie on the cable.</summary>
    public static IReadOnlyList<int> Others(SiteView view, CableForm form) =>
        [.. view.Draft.Nodes.Select(node => node.Node.Address).Except(form.Places.Where(place => place.Kind == PlaceKind.Node).Select(place => place.Node)).Order()];

    private static void Write(HtmlWriter page, SiteView view, CableForm form, Sentence? notice, (string What, int Place)? pressed)
    {
        page.Add($"<section class=\"acts site\"><p class=\"source\"><a href=\"{SiteLinks.Site}\">{Say($"The site")}</a></p><h1>{Say($"Name of the site, order on the cable, lengths")}</h1>");
        SiteFields.Notice(page, notice);
        SiteFields.NoLog(page, view);
        SiteFields.Begin(page, view, SiteLinks.Cable, form.Token);
        SiteFields.Line(page, CableForm.SiteField, Say($"Name of the site"), form.Site);
        page.Add($"<h2>{Say($"From one end of the cable to the other")}</h2><p class=\"limits\">{Say($"Metres are the cable from the entry before. Up, Down and moving exchange devices; the lengths stay where they are. Leave empty what nobody knows. Nothing is kept until you save.")}</p>");
        SiteFields.Line(page, CableForm.BeginField, Say($"Terminator at the beginning, Ω (empty: none)"), form.Begin, isNumber: true);
        Move(page, view, form);
        page.Literal("<ol class=\"cable\">");
        for (int index = 0; index < form.Places.Count; index++)
        {
            Place(page, view, form, index, pressed);
        }

        page.Literal("</ol>");
        SiteFields.Line(page, CableForm.EndMetresField, Say($"Cable before the last terminator, m"), form.EndMetres, isNumber: true);
        SiteFields.Line(page, CableForm.EndField, Say($"Terminator at the end, Ω (empty: none)"), form.End, isNumber: true);
        NotOnIt(page, view, form);
        SiteFields.End(page, view);
        page.Literal("</section>");
    }

    /// <summary>From one end to the other in one step; Up and Down are for neighbours.</summary>
    private static void Move(HtmlWriter page, SiteView view, CableForm form)
    {
        if (form.Places.Count < 3)
        {
            return;
        }

        page.Add($"<fieldset><legend>{Say($"Move far")}</legend>");
        SiteFields.Choice(page, CableForm.MoveField, Say($"What to move"), null, [.. form.Places.Select((place, index) => (Number(index), TitleOf(view, place)))], Say($"choose one"));
        SiteFields.Choice(page, CableForm.BehindField, Say($"Right behind"), null, [.. form.Places.Select((place, index) => (Number(index), TitleOf(view, place)))], Say($"the beginning of the cable"));
        page.Add($"<p class=\"entry\"><button class=\"minor\" name=\"{SiteLinks.DoField}\" value=\"{CableForm.Move}\">{Say($"Move it there")}</button></p></fieldset>");

        static string Number(int index) => index.ToString(CultureInfo.InvariantCulture);
    }

    private static void Place(HtmlWriter page, SiteView view, CableForm form, int index, (string What, int Place)? pressed)
    {
        CablePlace place = form.Places[index];
        Sentence title = TitleOf(view, place);
        page.Add($"<li><fieldset><legend>{title}</legend><input type=\"hidden\" name=\"{CableForm.What(index)}\" value=\"{place.What}\">");
        SiteFields.Line(page, CableForm.Metres(index), Say($"Metres from the entry before"), place.Metres, isNumber: true);
        if (place.Kind == PlaceKind.Terminator)
        {
            SiteFields.Line(page, CableForm.Ohms(index), Say($"Ω"), place.Ohms, isNumber: true);
        }

        page.Literal("<p class=\"entry\">");
        Button(CableForm.Up, Say($"Up"), Say($"Up: {title}"), index > 0);
        Button(CableForm.Down, Say($"Down"), Say($"Down: {title}"), index + 1 < form.Places.Count);
        Button(CableForm.Off, Say($"Off the cable"), Say($"Off the cable: {title}"), isThere: true);
        page.Literal("</p></fieldset></li>");

        void Button(string what, Sentence word, Sentence spoken, bool isThere)
        {
            if (!isThere)
            {
                return;
            }

            page.Add($"<button class=\"minor\" name=\"{SiteLinks.DoField}\" value=\"{CableForm.Act(what, index)}\" aria-label=\"{spoken}\"");

            // At an end of the list the button that was pressed is gone; the other one is as near.
            bool hasFocus = pressed is { } last && last.Place == index
                && (last.What == what || (last.What == CableForm.Move && what == CableForm.Down) || (last.What == CableForm.Up && what == CableForm.Down && index == 0) || (last.What != CableForm.Up && what == CableForm.Up && index + 1 == form.Places.Count));
            page.Literal(hasFocus ? " autofocus>" : ">");
            page.Add($"{word}</button>");
        }
    }

    private static void NotOnIt(HtmlWriter page, SiteView view, CableForm form)
    {
        IReadOnlyList<int> others = Others(view, form);
        bool hasClip = form.Places.Any(place => place.Kind == PlaceKind.Clip);
        if (others.Count == 0 && hasClip)
        {
            return;
        }

        page.Add($"<h2>{Say($"Not on the cable yet")}</h2><ul class=\"plain\">");
        if (!hasClip)
        {
            page.Add($"<li><button class=\"minor\" name=\"{SiteLinks.DoField}\" value=\"{CableForm.AddClip}\">{Say($"Put this tool’s clip at the end")}</button></li>");
        }

        foreach (int address in others)
        {
            page.Add($"<li><button class=\"minor\" name=\"{SiteLinks.DoField}\" value=\"{CableForm.Act(CableForm.Add, address)}\">{Say($"Put {SitePages.NameOf(view, address)} at the end")}</button></li>");
        }

        page.Literal("</ul>");
        if (others.Count > 1)
        {
            page.Add($"<p class=\"entry\"><button class=\"minor\" name=\"{SiteLinks.DoField}\" value=\"{CableForm.AddAll}\">{Say($"Put all of them there, by address")}</button></p>");
        }
    }

    private static Sentence TitleOf(SiteView view, CablePlace place) => place.Kind switch
    {
        PlaceKind.Node => SitePages.NameOf(view, place.Node),
        PlaceKind.Clip => Say($"This tool’s clip"),
        _ => Say($"a terminator that isn’t at an end"),
    };
}
