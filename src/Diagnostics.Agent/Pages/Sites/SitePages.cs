using Diagnostics.Agent.Pages.Nodes;
using Diagnostics.Agent.Records;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages.Sites;

/// <summary>The page of the site: the bus drawn, which record holds, its nodes in cable order, its versions. It keeps itself current; what is filled in has pages of its own.</summary>
internal static class SitePages
{
    public static LivePage Of(SiteView view) => new(
        Say($"The site"),
        SiteLinks.Site,
        [
            PagePiece.Of("head", page => Head(page, view)),
            PagePiece.Of("trunk", page => Trunk.Write(page, view.Model)),
            PagePiece.Of("nodes", page => Nodes(page, view)),
            PagePiece.Of("versions", page => Versions(page, view)),
            PagePiece.Of("files", page => Files(page, view)),
        ]);

    public static Sentence Standing(DraftStanding standing) => standing switch
    {
        DraftStanding.HeardOnly => Say($"Heard, not in the record."),
        DraftStanding.RecordedOnly => Say($"In the record, not heard."),
        _ => Say($"In the record, and heard."),
    };

    /// <summary>A node in a sentence.</summary>
    public static Sentence NameOf(SiteView view, int address) => Words.NodeName(address, view.Node(address)?.Node.Name);

    private static void Head(HtmlWriter page, SiteView view)
    {
        page.Add($"<header><p class=\"source\">{Say($"The site")}</p><h1><bdi>{(view.Record.Site is { } site ? Named(site) : Say($"A site without a name"))}</bdi></h1><p>{Holding(view)}</p>");
        if (view.Book.Overruled is { } overruled)
        {
            page.Add($"<p class=\"notice\">{Say($"Version {overruled.Number} was saved here, but the tool was given another record since. That one holds; the version can be used again below.")}</p>");
        }

        if (view.Book.SetAside.Count > 0)
        {
            page.Add($"<p class=\"notice\">{Say($"Saved versions that could not be read were set aside: {List([.. view.Book.SetAside.Select(Named)])}.")}</p>");
        }

        SiteFields.NoLog(page, view);
        page.Literal("</header>");
        Remarks(page, view);
    }

    /// <summary>What is in the file and not in the names: said while the file is still whole.</summary>
    private static void Remarks(HtmlWriter page, SiteView view)
    {
        if (view.Held.Remarks.Count == 0)
        {
            return;
        }

        page.Add($"<section class=\"notice\" id=\"remarks\"><p>{Say(view.Held.Remarks.Count, $"One thing in the record that holds may not be as it was meant:", $"{view.Held.Remarks.Count} things in the record that holds may not be as they were meant:")}</p><ul>");
        foreach (AsBuiltRemark remark in view.Held.Remarks)
        {
            page.Add($"<li>{remark.Said}</li>");
        }

        page.Literal("</ul>");
        if (view.CanEdit)
        {
            page.Add($"<p>{Say($"Members that are not known stay in this version and its download. A version that is made by changing something on this page leaves them out.")}</p>");
        }

        page.Literal("</section>");
    }

    private static Sentence Holding(SiteView view) => view.Held switch
    {
        { Record: null } => Say($"There is no as-built record yet. What was heard makes a draft of one; names and cable are added here."),
        { Number: 0 } => Say($"In force is the as-built record that this tool was started with."),
        _ => Say($"Version {view.Held.Number}, saved on this page, holds."),
    };

    private static void Nodes(HtmlWriter page, SiteView view)
    {
        page.Add($"<section class=\"acts site\" id=\"site-nodes\"><h2>{Say($"Its nodes")}</h2>");
        if (view.Draft.Nodes.Count == 0)
        {
            page.Add($"<p>{Say($"None was heard under an address of its own yet, and none stands in a record.")}</p>");
        }

        page.Literal("<ul class=\"overview\">");
        foreach ((DraftNode node, double? metres) in InCableOrder(view))
        {
            page.Literal("<li>");
            page.Literal(view.CanEdit ? "<a " : "<p ");
            if (view.CanEdit)
            {
                page.Add($"href=\"{SiteLinks.Node(node.Node.Address)}\"");
            }

            page.Add($"><span class=\"address\">{node.Node.Address}</span> <span><bdi>{(node.Node.Name is { } name ? Named(name) : Say($"without a name"))}</bdi>");
            if (metres is > 0)
            {
                page.Add($" <small>{Say($"{metres.Value:0.#} m from the one before")}</small>");
            }

            page.Add($" <small>{Standing(node.Standing)}</small></span>");
            page.Literal(view.CanEdit ? "</a></li>" : "</p></li>");
        }

        page.Literal("</ul>");
        if (view.CanEdit)
        {
            page.Add($"<p class=\"foot\"><a href=\"{SiteLinks.Cable}\">{Say($"Name of the site, order on the cable, lengths")}</a></p>");
            int fresh = view.Draft.Nodes.Count(node => node.Standing == DraftStanding.HeardOnly);
            if (view.Book.CanSave && fresh > 0)
            {
                page.Add($"<form method=\"post\" action=\"{SiteLinks.Take}\"><input type=\"hidden\" name=\"{SiteLinks.TokenField}\" value=\"{view.Held.Token}\"><p class=\"entry\"><button>{Say(fresh, $"Take the one that was heard into the record", $"Take the {fresh} that were heard into the record")}</button></p></form>");
            }
        }

        page.Literal("</section>");
    }

    /// <summary>Those on the cable as they lie there, with the cable from the node before; then the others by address.</summary>
    private static IEnumerable<(DraftNode Node, double? Metres)> InCableOrder(SiteView view)
    {
        HashSet<int> placed = [];
        double? metres = 0;
        foreach (TrunkEntry entry in view.Record.Trunk)
        {
            metres += entry.Metres;
            if (entry.Node is int address && view.Node(address) is { } node)
            {
                yield return (node, placed.Count > 0 ? metres : null);
                placed.Add(address);
                metres = 0;
            }
        }

        foreach (DraftNode node in view.Draft.Nodes.Where(node => !placed.Contains(node.Node.Address)).OrderBy(node => node.Node.Address))
        {
            yield return (node, null);
        }
    }

    private static void Versions(HtmlWriter page, SiteView view)
    {
        if (view.Book.Versions.Length == 0)
        {
            return;
        }

        page.Add($"<section class=\"acts site\" id=\"versions\"><h2>{Say($"Versions")}</h2><ul class=\"plain\">");
        foreach (RecordVersion version in view.Book.Versions.Reverse())
        {
            page.Add($"<li><p>{Told(view, version)} <a href=\"{SiteLinks.Version(version.Number)}\">{Say($"Download version {version.Number}")}</a></p>");
            UseAgain(page, view, version.Number, Say($"Use version {version.Number} again"));
            page.Literal("</li>");
        }

        if (view.Book.TryRead(0, out _, out _))
        {
            page.Add($"<li><p>{Say($"The record that the tool was given at its start.")} <a href=\"{SiteLinks.Version(0)}\">{Say($"Download it")}</a></p>");
            UseAgain(page, view, 0, Say($"Use it again"));
            page.Literal("</li>");
        }

        page.Add($"</ul><p class=\"limits\">{Say($"The latest {Limits.RecordVersions} are kept.")}</p></section>");
    }

    private static void UseAgain(HtmlWriter page, SiteView view, int number, Sentence word)
    {
        if (view.CanEdit && view.Book.CanSave && number != view.Held.Number)
        {
            page.Add($"<form method=\"post\" action=\"{SiteLinks.Again}\"><input type=\"hidden\" name=\"{SiteLinks.TokenField}\" value=\"{view.Held.Token}\"><p class=\"entry\"><button class=\"minor\" name=\"number\" value=\"{number}\">{word}</button></p></form>");
        }
    }

    private static Sentence Told(SiteView view, RecordVersion version)
    {
        Sentence made = view.Model.Times.Full(version.Made);
        Sentence what = (version.Origin, version.From) switch
        {
            (RecordOrigin.Imported, _) => Say($"Version {version.Number}, imported {made}."),
            (RecordOrigin.Again, 0) => Say($"Version {version.Number}, the given record taken again {made}."),
            (RecordOrigin.Again, { } from) => Say($"Version {version.Number}, version {from} taken again {made}."),
            _ => Say($"Version {version.Number}, edited {made}."),
        };
        return version.Number == view.Held.Number ? Join(what, Say($"It holds.")) : what;
    }

    private static void Files(HtmlWriter page, SiteView view)
    {
        page.Add($"<section class=\"site\" id=\"files\"><h2>{Say($"As a file")}</h2><ul class=\"plain\">");
        if (view.Held.Text is not null)
        {
            page.Add($"<li><a href=\"{SiteLinks.Export}\">{Say($"Download the record that holds")}</a></li>");
        }

        page.Add($"<li><a href=\"{SiteLinks.Draft}\">{Say($"Download it with what was heard besides")}</a></li>");
        if (view.CanEdit)
        {
            page.Add($"<li><a href=\"{SiteLinks.Import}\">{Say($"Import a record")}</a></li>");
        }

        page.Add($"</ul><p class=\"limits\">{Say($"New names hold at once; what was found before keeps the old ones. The bit rate, the protocol, what process messages carry and which data sheet a type means hold from the next start of the tool.")}</p></section>");
    }
}
