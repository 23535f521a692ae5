using Diagnostics.Core.Wording;
using System.Globalization;
using Diagnostics.Core.Protocols.CanOpen;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Commands;

/// <summary>
/// Reads data sheets from files; what they may hold is <see cref="DataSheetReader"/>'s business. A directory stands for the .eds and .dcf files in it, so
/// that a site's collection needs no list, and the makers' notes and pictures beside them don't matter. A file that is named is judged by its content only.
/// </summary>
internal static class DataSheetFiles
{
    private const string NameSheets = "name electronic data sheets (EDS, DCF), or a directory of them, that this user may read";

    /// <param name="paths">Files and directories, in any mixture.</param>
    /// <param name="which">How messages name the setting.</param>
    /// <returns>The sheets, and whole sentences on what their authors may not have meant.</returns>
    /// <exception cref="SettingException">One can't be used; the message has its line where the content is at fault.</exception>
    public static (IReadOnlyList<DataSheet> Sheets, IReadOnlyList<Sentence> Remarks) Read(IEnumerable<string> paths, string which)
    {
        List<DataSheet> sheets = [];
        List<Sentence> remarks = [];
        Dictionary<byte, string> nodes = [];
        foreach (string path in paths.SelectMany(path => FilesOf(path, which)).Distinct(StringComparer.Ordinal))
        {
            DataSheet sheet = ReadOne(path, which, remarks);
            if (sheet.Node is byte node && !nodes.TryAdd(node, path))
            {
                throw new SettingException(which, $"'{nodes[node]}' and '{path}' are both for node {node}", "give one file for each node");
            }

            sheets.Add(sheet);
            if (sheets.Count - nodes.Count > DataSheetReader.MostKinds)
            {
                throw new SettingException(which, $"there are more than {DataSheetReader.MostKinds} data sheets that name no node", "leave out those of devices that this site doesn't have");
            }
        }

        int[] rates = [.. sheets.Select(sheet => sheet.BitRate).OfType<int>().Distinct().Order()];
        if (rates.Length > 1)
        {
            remarks.Add(Say($"The device configuration files don't agree on the bit rate ({string.Join(", ", rates)} bit/s), so it isn't taken from them."));
        }

        return (sheets, remarks);
    }

    private static string[] FilesOf(string path, string which)
    {
        if (!Directory.Exists(path))
        {
            return [path];
        }

        try
        {
            string[] files = [.. Directory.EnumerateFiles(path)
                .Where(file => Path.GetExtension(file).ToUpperInvariant() is ".EDS" or ".DCF")
                .Order(StringComparer.Ordinal)];
            return files.Length > 0 ? files : throw new SettingException(which, $"no file in the directory '{path}' ends in .eds or .dcf", NameSheets);
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException)
        {
            throw new SettingException(which, $"'{path}' can't be read ({problem.Message.TrimEnd('.')})", NameSheets);
        }
    }

    private static DataSheet ReadOne(string path, string which, List<Sentence> remarks)
    {
        byte[] bytes;
        try
        {
            // What is too long is told by the reader, whose limit is the same.
            bytes = BoundedFile.Read(path, Limits.ConfigurationBytes);
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            string why = problem is NotAFileException ? problem.Message : problem is FileNotFoundException or DirectoryNotFoundException ? "there is no such file" : $"it can't be read ({problem.Message.TrimEnd('.')})";
            throw new SettingException(which, $"'{path}': {why}", NameSheets);
        }

        string name = Path.GetFileName(path);
        if (!DataSheetReader.TryRead(bytes, name, out DataSheet? sheet, out DataSheetError? error, out IReadOnlyList<Sentence> odd))
        {
            throw new SettingException(which, string.Create(CultureInfo.InvariantCulture, $"'{path}', line {error!.Line}: {error.Problem}"), error.Remedy);
        }

        remarks.AddRange(odd.Select(remark => Say($"Data sheet {name}, {remark}.")));
        return sheet!;
    }
}
