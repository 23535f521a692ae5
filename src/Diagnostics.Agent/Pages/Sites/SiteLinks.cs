using System.Globalization;

namespace Diagnostics.Agent.Pages.Sites;

/// <summary>Addresses of the pages of the site, and the fields that several of their forms have.</summary>
internal static class SiteLinks
{
    public const string Site = "/site";
    public const string Cable = "/site/cable";
    public const string Nodes = "/site/nodes/";
    public const string Import = "/site/import";

    /// <summary>Takes what was heard into the record.</summary>
    public const string Take = "/site/take";

    /// <summary>Takes an earlier version again.</summary>
    public const string Again = "/site/again";

    /// <summary>The record that holds, as a file.</summary>
    public const string Export = "/site/record.json";

    /// <summary>The record that holds with what was heard besides, as a file.</summary>
    public const string Draft = "/site/draft.json";

    public const string Versions = "/site/versions/";

    /// <summary>What the person saw when the form was opened.</summary>
    public const string TokenField = "version";

    /// <summary>Which button was pressed; a form that is sent by the Enter key says the first one, which saves.</summary>
    public const string DoField = "do";

    public const string Save = "save";
    public const string Download = "download";

    public static string Node(int address) => string.Create(CultureInfo.InvariantCulture, $"{Nodes}{address}");

    public static string Version(int number) => string.Create(CultureInfo.InvariantCulture, $"{Versions}{number}");
}
