namespace Diagnostics.Tests;

/// <summary>The recordings beside the checkout; they keep their own licences and are no part of the project.</summary>
internal static class RecordedFiles
{
    /// <summary>The file's bytes; skips the test where the recordings aren't there.</summary>
    public static byte[] Read(string name)
    {
        for (DirectoryInfo? folder = new(AppContext.BaseDirectory); folder != null; folder = folder.Parent)
        {
            string path = Path.Combine(folder.FullName, "shared", "recordings", name);
            if (File.Exists(path))
            {
                return File.ReadAllBytes(path);
            }
        }

        Assert.Skip("The recordings (shared/recordings beside the checkout) are not there: " + name);
        return [];
    }
}
