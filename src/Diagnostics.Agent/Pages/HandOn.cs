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

        page.Add($"<section class=\"read-from\"><p><strong>Read from {origin.What}{(origin.Made is { } made ? $" made on {model.Times.Full(made)}" : string.Empty)}{(origin.Program is { } program ? $" by version {program}" : string.Empty)}; nothing here is live.</strong></p>");
        foreach (string remark in origin.Remarks)
        {
            page.Add($"<p>{remark}</p>");
        }

        page.Literal("</section>");
    }

    public static void Write(HtmlWriter page, PageModel model)
    {
        if (!model.CanBundle)
        {
            return;
        }

        page.Literal("<section class=\"hand-on\" id=\"hand-on\"><h2>Hand it on</h2>");
        page.Literal("<p>A bundle is one file for somebody who isn’t here: this report, the whole log, the kept frames, the settings and the as-built record. <code>diagnostics open FILE</code> shows this page from it, on any day.</p>");
        page.Literal("<p>The log shows when inputs were operated, and so when people were present. The second button leaves out the changes of inputs, the kept frames and what happened around your marks. What stays: findings, which say when an input misbehaved; the marks themselves; and the load, which may rise when people are about.</p>");
        page.Add($"<form method=\"post\" action=\"{Path}\"><p class=\"entry\"><button name=\"{InputsField}\" value=\"{Keep}\">Make a bundle</button><button name=\"{InputsField}\" value=\"{Leave}\">Make one without inputs and frames</button></p></form>");
        page.Literal("</section>");
    }
}
