using System.Globalization;
using System.Text;
using Diagnostics.Agent.Records;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Wording;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages.Sites;

/// <summary>Serves the pages of the site, and takes their forms where a service runs: names, cable, versions, import.</summary>
internal sealed class SitePart(PageSource source) : IPagePart
{
    private const string NumberField = "number";

    /// <summary>Protocols that a record can name where no data sheet lies beside it.</summary>
    private static readonly string[] Protocols = ["auto", "canopen", "none"];

    private readonly RecordBook _book = source.Records ?? new(source.State.Built, source.State.Built is { } built ? AsBuiltWriter.ToUtf8(built) : null, null, source.Clock);

    /// <summary>The page that keeps itself current.</summary>
    public LivePage? At(string path, PageModel model) => path == SiteLinks.Site ? SitePages.Of(SiteView.Of(model, _book)) : null;

    public void Map(IEndpointRouteBuilder routes)
    {
        routes.MapRead(SiteLinks.Site, context =>
        {
            PageModel model = source.Model(context);
            return PageAnswers.HtmlAsync(context, Shell.Served(SitePages.Of(SiteView.Of(model, _book)), model));
        });
        routes.MapRead(SiteLinks.Export, context => FileAsync(context, _book.Held.Text, "site.json"));
        routes.MapRead(SiteLinks.Draft, context => FileAsync(context, AsBuiltWriter.ToUtf8(View().Draft.Record), "site-draft.json"));
        routes.MapRead(SiteLinks.Versions + "{number}", VersionAsync);
        if (source.State.ReadFrom is not null)
        {
            return;
        }

        routes.MapRead(SiteLinks.Cable, context =>
        {
            SiteView view = View();
            return FormPageAsync(context, view, CablePage.Of(view, CableForm.Of(view), null));
        });
        routes.MapRead(SiteLinks.Nodes + "{address}", context =>
        {
            SiteView view = View();
            return NodeIn(context, view) is { } node ? FormPageAsync(context, view, NodeFormPage.Of(view, node, NodeForm.Of(view, node.Node), null)) : Task.CompletedTask;
        });
        routes.MapRead(SiteLinks.Import, context =>
        {
            SiteView view = View();
            return FormPageAsync(context, view, ImportPage.Of(view, view.Held.Token, string.Empty, null));
        });
        routes.MapPost(SiteLinks.Cable, context => WithFormAsync(context, CableAsync));
        routes.MapPost(SiteLinks.Nodes + "{address}", context => WithFormAsync(context, NodeAsync));
        routes.MapPost(SiteLinks.Import, context => WithFormAsync(context, ImportAsync));
        routes.MapAction(SiteLinks.Take, SiteLinks.Site, Take, StatusCodes.Status409Conflict);
        routes.MapAction(SiteLinks.Again, SiteLinks.Site, Again, StatusCodes.Status409Conflict);
    }

    private SiteView View() => SiteView.Of(source.Model(), _book);

    private static async Task WithFormAsync(HttpContext context, Func<HttpContext, IFormCollection, Task> take)
    {
        if (await PageAnswers.FormAsync(context, Limits.RecordForm, Limits.RecordFormFields).ConfigureAwait(false) is { } form)
        {
            await take(context, form).ConfigureAwait(false);
        }
    }

    private static Task FormPageAsync(HttpContext context, SiteView view, LivePage page, int status = StatusCodes.Status200OK)
    {
        context.Response.StatusCode = status;
        return PageAnswers.HtmlAsync(context, Shell.Served(page, view.Model with { Language = context.Language() }, isForm: true));
    }

    private static Task FileAsync(HttpContext context, byte[]? text, string name)
    {
        if (text is null)
        {
            return PageAnswers.NothingHere(context);
        }

        context.Response.Headers.ContentDisposition = $"attachment; filename=\"{name}\"";
        return PageAnswers.JsonAsync(context, text);
    }

    private Task VersionAsync(HttpContext context)
    {
        bool isNumber = int.TryParse(context.Request.RouteValues[NumberField] as string, NumberStyles.None, CultureInfo.InvariantCulture, out int number);
        byte[]? text = null;
        return FileAsync(context, isNumber && _book.TryRead(number, out _, out text) ? text : null, string.Create(CultureInfo.InvariantCulture, $"site-{number}.json"));
    }

    /// <summary>The node of the address; null, and the answer that it isn't there, where neither the record nor the bus knows it.</summary>
    private static DraftNode? NodeIn(HttpContext context, SiteView view)
    {
        bool isNumber = int.TryParse(context.Request.RouteValues["address"] as string, NumberStyles.None, CultureInfo.InvariantCulture, out int address);
        DraftNode? node = isNumber ? view.Node(address) : null;
        if (node is null)
        {
            context.Response.StatusCode = StatusCodes.Status404NotFound;
        }

        return node;
    }

    private Task CableAsync(HttpContext context, IFormCollection form)
    {
        SiteView view = View();
        CableForm typed = CableForm.Read(form);
        string act = form[SiteLinks.DoField].ToString();
        if (act.Length > 0 && act is not (SiteLinks.Save or SiteLinks.Download))
        {
            typed = typed.After(act, CablePage.Others(view, typed), out int? moved);
            string what = act.LastIndexOf('-') is > 0 and var dash ? act[..dash] : act;
            return FormPageAsync(context, view, CablePage.Of(view, typed, null, moved is int place ? (what, place) : null));
        }

        if (!typed.TryRecord(view, out AsBuiltRecord record, out Sentence? why))
        {
            return FormPageAsync(context, view, CablePage.Of(view, typed, why), StatusCodes.Status400BadRequest);
        }

        return FinishAsync(context, act, typed.Token, record, (now, notice) => CablePage.Of(
            now, typed with { Token = now.Held.Token }, notice is null ? Join(Conflict, Say($"In it the order is: {Order(now)}.")) : notice));
    }

    private Task NodeAsync(HttpContext context, IFormCollection form)
    {
        SiteView view = View();
        if (NodeIn(context, view) is not { } node)
        {
            return Task.CompletedTask;
        }

        NodeForm typed = NodeForm.Read(form);
        string act = form[SiteLinks.DoField].ToString();
        if (act == NodeForm.More)
        {
            return FormPageAsync(context, view, NodeFormPage.Of(view, node, typed.WithSpareRows(), null));
        }

        if (!typed.TryNode(node.Node, out BuiltNode named, out Sentence? why))
        {
            return FormPageAsync(context, view, NodeFormPage.Of(view, node, typed, why), StatusCodes.Status400BadRequest);
        }

        AsBuiltRecord record = act == NodeForm.Remove ? Without(view.Record, named.Address) : With(view.Record, named);
        return FinishAsync(context, act, typed.Token, record, (now, notice) => NodeFormPage.Of(
            now,
            now.Node(named.Address) ?? node,
            typed with { Token = now.Held.Token },
            notice is null ? Join(Conflict, Say($"In it this is {SitePages.NameOf(now, named.Address)}.")) : notice));
    }

    private static Sentence Conflict => Say($"Somebody saved another version meanwhile, so this was not saved. What you entered still stands below; saving it now puts it into the newer version.");

    private static Sentence Order(SiteView view) => view.Record.Trunk.Any(entry => entry.Node is not null)
        ? List([.. view.Record.Trunk.Select(entry => entry.Node).OfType<int>().Select(address => Say($"{address}"))])
        : Say($"none");

    private static AsBuiltRecord With(AsBuiltRecord record, BuiltNode node) => record with
    {
        Nodes = record.Nodes.Any(known => known.Address == node.Address)
            ? [.. record.Nodes.Select(known => known.Address == node.Address ? node : known)]
            : [.. record.Nodes, node],
    };

    private static AsBuiltRecord Without(AsBuiltRecord record, int address) => record with
    {
        Nodes = [.. record.Nodes.Where(node => node.Address != address)],
        Trunk = [.. record.Trunk.Where(entry => entry.Node != address)],
    };

    /// <summary>Saves, or gives as a file where there is no place to save in; what isn't taken comes back with what was written.</summary>
    /// <param name="context">The request.</param>
    /// <param name="act">The button.</param>
    /// <param name="token">What the person saw.</param>
    /// <param name="record">The whole record.</param>
    /// <param name="again">The form once more, for the record that holds now; with why, or null where somebody else saved meanwhile.</param>
    private Task FinishAsync(HttpContext context, string act, string token, AsBuiltRecord record, Func<SiteView, Sentence?, LivePage> again)
    {
        if (act == SiteLinks.Download)
        {
            byte[] text = AsBuiltWriter.ToUtf8(record);
            if (AsBuiltReader.TryRead(text, out _, out _))
            {
                return FileAsync(context, text, "site.json");
            }
        }

        SaveOutcome outcome = Save(token, record, RecordOrigin.Edited);
        if (outcome.IsSaved)
        {
            PageAnswers.SeeOther(context.Response, SiteLinks.Site);
            return Task.CompletedTask;
        }

        SiteView now = View();
        int status = outcome.IsConflict ? StatusCodes.Status409Conflict : outcome.IsWrong ? StatusCodes.Status400BadRequest : StatusCodes.Status503ServiceUnavailable;
        return FormPageAsync(context, now, again(now, outcome.IsConflict ? null : outcome.Why), status);
    }

    private SaveOutcome Save(string token, AsBuiltRecord record, RecordOrigin origin, int? from = null, byte[]? written = null) =>
        source.State.Troubles.Any(trouble => trouble.Part == Trouble.OfLog)
            ? new(Say($"The log does not work now, so nothing can be saved; the report page says why."))
            : _book.Save(token, record, origin, from, written);

    private async Task ImportAsync(HttpContext context, IFormCollection form)
    {
        byte[] bytes = Encoding.UTF8.GetBytes(form[ImportPage.TextField].ToString());
        IFormFile? file = form.Files.GetFile(ImportPage.FileField);
        if (file is { Length: > 0 })
        {
            using MemoryStream content = new();
            await file.CopyToAsync(content, context.RequestAborted).ConfigureAwait(false);
            bytes = content.ToArray();
        }

        Sentence? why;
        int status = StatusCodes.Status400BadRequest;
        if (bytes.AsSpan().Trim(" \t\r\n"u8).IsEmpty)
        {
            why = file is null
                ? Say($"No file was chosen and no text entered: choose a file, or put the text of a record into the field. Nothing was changed.")
                : Say($"The file that was chosen is empty. Nothing was changed.");
        }
        else if (!AsBuiltReader.TryRead(bytes, out AsBuiltRecord? record, out AsBuiltError? error))
        {
            why = Say($"Line {error!.Line}, column {error.Column}, at {error.Path}: {error.Problem}; {error.Remedy}. Nothing was changed.");
        }
        else if (ProtocolOf(record!) is { } protocol)
        {
            why = Say($"The record says protocol “{protocol}”, which would be a data sheet beside its file. Here choose {List([.. Protocols.Select(Named)])}, and name data sheets with --protocol. Nothing was changed.");
        }
        else
        {
            SaveOutcome outcome = Save(form[SiteLinks.TokenField].ToString(), record!, RecordOrigin.Imported, written: bytes);
            if (outcome.IsSaved)
            {
                PageAnswers.SeeOther(context.Response, SiteLinks.Site);
                return;
            }

            why = outcome.IsConflict ? Say($"Somebody saved another version meanwhile, so this was not taken. Send it once more to put it in the place of that one.") : outcome.Why;
            status = outcome.IsConflict ? StatusCodes.Status409Conflict : StatusCodes.Status503ServiceUnavailable;
        }

        SiteView view = View();
        await FormPageAsync(context, view, ImportPage.Of(view, view.Held.Token, IsText(bytes) ? Encoding.UTF8.GetString(bytes) : string.Empty, why), status).ConfigureAwait(false);
    }

    /// <summary>What was sent comes back to be mended; a wrong file, a picture or a bundle, would fill the page with rubbish.</summary>
    private static bool IsText(ReadOnlySpan<byte> bytes) => System.Text.Unicode.Utf8.IsValid(bytes) && !bytes.Contains((byte)0);

    /// <summary>A protocol that can't be meant here; null = it can.</summary>
    private string? ProtocolOf(AsBuiltRecord record) =>
        record.Protocol is { } protocol && protocol != _book.GivenProtocol && !Protocols.Contains(protocol, StringComparer.OrdinalIgnoreCase) ? protocol : null;

    private Sentence? Take(IFormCollection form)
    {
        SiteView view = View();
        return Save(form[SiteLinks.TokenField].ToString(), view.Draft.Record, RecordOrigin.Edited).Why;
    }

    private Sentence? Again(IFormCollection form)
    {
        int number = int.TryParse(form[NumberField].ToString(), NumberStyles.None, CultureInfo.InvariantCulture, out int said) ? said : -1;
        return _book.TryRead(number, out AsBuiltRecord? record, out byte[]? written)
            ? Save(form[SiteLinks.TokenField].ToString(), record, RecordOrigin.Again, number, written).Why
            : Say($"That version isn’t there any more, or can’t be read.");
    }
}
