namespace Diagnostics.Tests;

/// <summary>The recordings beside the checkout; they keep their own licences and are no part of the project.</summary>
internal static class RecordedFiles
{
    /// <summary>Where the file lies; skips the test where the recordings aren't there.</summary>
    public static string Find(params string[] name)
    {
        for (DirectoryInfo? folder = new(AppContext.BaseDirectory); folder is not null; folder = folder.Parent)
        {
            string path = Path.Combine([folder.FullName, "shared", "recordings", .. name]);
            if (File.Exists(path))
            {
                return path;
            }
        }

        Assert.Skip("The recordings (shared/recordings beside the checkout) are not there: " + string.Join('/', name));
        return "";
    }

    public static byte[] Read(string name) => File.ReadAllBytes(Find(name));

    public static string[] Lines(params string[] name) => File.ReadAllLines(Find(name));
}
