using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages;

/// <summary>The log for somebody who isn't here: a form that gives a bundle, and on the page of a bundle the line that says so.</summary>
internal static class HandOn
{
    public const string Path = "/bundle";
    public const string InputsField = "inputs";
    public const string Leave = "leave";
    public const string Keep = "keep";

    /// <summary>Directory of the log that the asker means; a service that keeps another refuses.</summary>
    public const string LogField = "log";

    /// <summary>Above everything else: who reads must not take it for now.</summary>
    public static void Origin(HtmlWriter page, PageModel model)
    {
        if (model.ReadFrom is not { } origin)
        {
            return;
        }

        Sentence source = origin.What;
        Sentence told = (origin.Made, origin.Program) switch
        {
            ({ } made, { } program) => Say($"Read from {source} made on {model.Times.Full(made)} by version {program}; nothing here is live."),
            ({ } made, null) => Say($"Read from {source} made on {model.Times.Full(made)}; nothing here is live."),
            (null, { } program) => Say($"Read from {source} by version {program}; nothing here is live."),
            _ => Say($"Read from {source}; nothing here is live."),
        };
        page.Add($"<section class=\"read-from\"><p><strong>{told}</strong></p>");
        foreach (string remark in origin.Remarks)
        {
            page.Add($"<p>{Sentence.Plain(remark)}</p>");
        }

        page.Literal("</section>");
    }

    public static void Write(HtmlWriter page, PageModel model)
    {
        if (!model.CanBundle)
        {
            return;
        }

        page.Add($"<section class=\"hand-on\" id=\"hand-on\"><h2>{Say($"Hand it on")}</h2>");
        page.Add($"<p>{Say($"A bundle is one file for somebody who isn’t here: this report, the whole log, the kept frames, the settings and the as-built record.")} {Say($"Who has it sees this page on any day, by:")} <code>diagnostics open FILE</code></p>");
        page.Add($"<p>{Say($"The log shows when inputs were operated, and so when people were present. The second button leaves out the changes of inputs, the kept frames and what happened around your marks. What stays: findings, which say when an input misbehaved; the marks themselves; and the load, which may rise when people are about.")}</p>");
        page.Add($"<form method=\"post\" action=\"{Path}\"><p class=\"entry\"><button name=\"{InputsField}\" value=\"{Keep}\">{Say($"Make a bundle")}</button><button name=\"{InputsField}\" value=\"{Leave}\">{Say($"Make one without inputs and frames")}</button></p></form>");
        page.Literal("</section>");
    }
}
