using System.Text;

namespace Diagnostics.Agent.Commands;

/// <summary>
/// A page that a command writes into a file of the user's choice (<c>--html</c>, <c>--pdf</c>): written beside it and then given its name, so that a full disk leaves what was
/// there. Only a page is ever written over, and no PDF, as other papers are PDFs, too: a slip of the hand must not cost a trace.
/// </summary>
internal static class PageFile
{
    public const string Html = "--html";
    public const string Pdf = "--pdf";

    private static readonly byte[] Beginning = "<!doctype html"u8.ToArray();

    /// <summary>Asked before anything else is done: nobody wants to hear after a weekend that the folder isn't there.</summary>
    /// <exception cref="SettingException">It can't be written, or it is something else.</exception>
    public static void Check(string file, string option = Html) => Try(file, option, () =>
    {
        // A page takes the place of what has its name: for root that would be a device that every program on the board relies on (/dev/null).
        if (!Directory.Exists(file) && FileKind.Oddity(file) is { } oddity)
        {
            throw new SettingException(option, $"'{file}' is {oddity}, not a file", "name an ordinary file");
        }

        bool isNew = !File.Exists(file);
        if (!isNew && option == Pdf)
        {
            throw new SettingException(option, $"'{file}' is there already, and no PDF is written over", "name another file, or remove that one");
        }

        using (FileStream there = new(file, FileMode.OpenOrCreate, FileAccess.ReadWrite))
        {
            byte[] first = new byte[Beginning.Length];
            if (there.Length > 0 && (there.ReadAtLeast(first, first.Length, throwOnEndOfStream: false) < first.Length || !first.SequenceEqual(Beginning)))
            {
                throw new SettingException(option, $"'{file}' is there, and no page", "name another file, or remove that one");
            }
        }

        if (isNew)
        {
            File.Delete(file);
        }
    });

    /// <exception cref="SettingException">It can't be written, or it is something else.</exception>
    public static void Write(string file, string page) => Write(file, new UTF8Encoding(encoderShouldEmitUTF8Identifier: false).GetBytes(page), Html);

    /// <param name="file">Where to.</param>
    /// <param name="content">All of it.</param>
    /// <param name="option">That named the file, and says what it is.</param>
    /// <exception cref="SettingException">It can't be written, or it is something else.</exception>
    public static void Write(string file, byte[] content, string option)
    {
        Check(file, option);
        Try(file, option, () =>
        {
            // A link stays one: what it leads to is replaced.
            string target = (File.Exists(file) ? File.ResolveLinkTarget(file, returnFinalTarget: true)?.FullName : null) ?? Path.GetFullPath(file);
            string unfinished = Path.Combine(Path.GetDirectoryName(target)!, $".page-{Path.GetRandomFileName()}.part");
            try
            {
                using (FileStream stream = new(unfinished, FileMode.CreateNew, FileAccess.Write))
                {
                    stream.Write(content);
                    stream.Flush(flushToDisk: true);
                }

                File.Move(unfinished, target, overwrite: option == Html);
            }
            finally
            {
                File.Delete(unfinished);
            }
        });
    }

    private static void Try(string file, string option, Action action)
    {
        try
        {
            action();
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            string why = Directory.Exists(file) ? "it is a directory" : problem.Message.TrimEnd('.');
            throw new SettingException(option, $"'{file}' can't be written ({why})", "name a file in a directory that this user may write in, on a disk with room");
        }
    }
}
