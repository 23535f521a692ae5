namespace Diagnostics.SystemTests;

/// <summary>Finds the source tree from the test's own place.</summary>
internal static class Repository
{
    public static string Root { get; } = Find();

    /// <summary>Release or Debug, as the tests were built.</summary>
    public static string Configuration => AppContext.BaseDirectory.Contains("/Release/", StringComparison.Ordinal) ? "Release" : "Debug";

    private static string Find()
    {
        for (DirectoryInfo? directory = new(AppContext.BaseDirectory); directory is not null; directory = directory.Parent)
        {
            if (File.Exists(Path.Combine(directory.FullName, "Diagnostics.sln")))
            {
                return directory.FullName;
            }
        }

        throw new DirectoryNotFoundException("The tests don't run within the source tree.");
    }

    public static string PathOf(string relative) => Path.Combine(Root, relative);
}
