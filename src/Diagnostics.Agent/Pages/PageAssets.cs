using System.Security.Cryptography;
using System.Text;

namespace Diagnostics.Agent.Pages;

/// <summary>Files that the page brings along, embedded in the program and named by their content, so that a browser may keep them for good.</summary>
internal static class PageAssets
{
    public const string Folder = "/assets/";

    public static readonly PageAsset Style = Load("page.css", "text/css; charset=utf-8");
    public static readonly PageAsset Script = Load("page.js", "text/javascript; charset=utf-8");

    public static readonly PageAsset TimeStyle = Load("time.css", "text/css; charset=utf-8");
    public static readonly PageAsset TimeScript = Load("time.js", "text/javascript; charset=utf-8");

    private static readonly PageAsset[] All = [Style, Script, TimeStyle, TimeScript];

    public static PageAsset? Find(string path) => Array.Find(All, asset => asset.Path == path);

    private static PageAsset Load(string file, string type)
    {
        using Stream stream = typeof(PageAssets).Assembly.GetManifestResourceStream("Diagnostics.Agent.Pages.Assets." + file)
            ?? throw new InvalidOperationException($"The program was built without {file}.");
        using MemoryStream bytes = new();
        stream.CopyTo(bytes);
        byte[] content = bytes.ToArray();
        byte[] hash = SHA256.HashData(content);
        string name = $"{Folder}{Path.GetFileNameWithoutExtension(file)}.{Convert.ToHexStringLower(hash.AsSpan(0, 8))}{Path.GetExtension(file)}";
        return new(name, type, content, "sha256-" + Convert.ToBase64String(hash));
    }
}

/// <param name="Path">Where it is served.</param>
/// <param name="Type">Media type.</param>
/// <param name="Content">The bytes.</param>
/// <param name="Integrity">Its hash as a content security policy writes it.</param>
internal sealed record PageAsset(string Path, string Type, byte[] Content, string Integrity)
{
    public string Text => Encoding.UTF8.GetString(Content);
}
