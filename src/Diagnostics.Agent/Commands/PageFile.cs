using System.Text;

namespace Diagnostics.Agent.Commands;

/// <summary>A page that a command writes into a file of the user's choice (<c>--html</c>). Only a page is ever written over: a slip of the hand must not cost a trace.</summary>
internal static class PageFile
{
    private const string Option = "--html";

    private static readonly byte[] Beginning = "<!doctype html"u8.ToArray();

    /// <summary>Asked before anything else is done: nobody wants to hear after a weekend that the folder isn't there.</summary>
    /// <exception cref="SettingException">It can't be written, or it is something else.</exception>
    public static void Check(string file) => Try(file, () =>
    {
        bool isNew = !File.Exists(file);
        using (FileStream there = new(file, FileMode.OpenOrCreate, FileAccess.ReadWrite))
        {
            byte[] first = new byte[Beginning.Length];
            if (there.Length > 0 && (there.ReadAtLeast(first, first.Length, throwOnEndOfStream: false) < first.Length || !first.SequenceEqual(Beginning)))
            {
                throw new SettingException(Option, $"'{file}' is there, and no page", "name another file, or remove that one");
            }
        }

        if (isNew)
        {
            File.Delete(file);
        }
    });

    /// <exception cref="SettingException">It can't be written, or it is something else.</exception>
    public static void Write(string file, string page)
    {
        Check(file);
        Try(file, () => File.WriteAllText(file, page, new UTF8Encoding(encoderShouldEmitUTF8Identifier: false)));
    }

    private static void Try(string file, Action action)
    {
        try
        {
            action();
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            string why = Directory.Exists(file) ? "it is a directory" : problem.Message.TrimEnd('.');
            throw new SettingException(Option, $"'{file}' can't be written ({why})", "name a file in a directory that this user may write in, on a disk with room");
        }
    }
}
