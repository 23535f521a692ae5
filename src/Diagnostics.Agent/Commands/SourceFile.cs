using System.Text.Json;
using Diagnostics.Agent.Bundles;
using Diagnostics.Agent.History;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.Commands;

/// <summary>What a word that names a record leads to. It shows in the first bytes, not in the name.</summary>
internal static class SourceFile
{
    /// <summary>As an argument: a trace on standard input.</summary>
    public const string StandardInput = "-";

    /// <summary>For commands that take whatever holds a record.</summary>
    public const string Remedy = "name a trace, the directory of a log, a bundle or a report document";

    /// <summary>Blanks and a byte order mark may stand before a document.</summary>
    private const int SniffedBytes = 64;

    /// <exception cref="SettingException">There is nothing, or it can't be opened.</exception>
    public static SourceKind KindOf(string word)
    {
        if (word == StandardInput)
        {
            return SourceKind.Trace;
        }

        if (Directory.Exists(word))
        {
            return SourceKind.Log;
        }

        // Of a pipe the first bytes can be read only once.
        if (FileKind.Oddity(word) is not null)
        {
            return SourceKind.Trace;
        }

        Span<byte> first = stackalloc byte[SniffedBytes];
        try
        {
            using FileStream file = new(word, FileMode.Open, FileAccess.Read, FileShare.ReadWrite);
            first = first[..file.ReadAtLeast(first, first.Length, throwOnEndOfStream: false)];
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            string why = problem is FileNotFoundException or DirectoryNotFoundException ? "there is no such file or directory" : $"it can't be opened ({problem.Message.TrimEnd('.')})";
            throw new SettingException(word, why, Remedy);
        }

        return first.StartsWith("PK"u8) ? SourceKind.Bundle
            : first.TrimStart("\uFEFF \t\r\n"u8) is [(byte)'{', ..] ? SourceKind.Report
            : SourceKind.Trace;
    }

    /// <summary>A saved report document.</summary>
    /// <exception cref="SettingException">It can't be read, or is none.</exception>
    public static Report Document(string word)
    {
        const string Saved = "give a report document as --json or /report.json wrote it";
        byte[] bytes;
        try
        {
            bytes = BoundedFile.Read(word, Limits.ReportBytes);
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException)
        {
            throw new SettingException(word, $"it can't be read ({problem.Message.TrimEnd('.')})", "check that this user may read it");
        }

        if (bytes.Length > Limits.ReportBytes)
        {
            throw new SettingException(word, $"it has more than {Limits.ReportBytes} bytes, which is the limit", Saved);
        }

        try
        {
            ReadOnlySpan<byte> text = bytes.AsSpan().StartsWith("\uFEFF"u8) ? bytes.AsSpan(3) : bytes;
            Report? report = JsonSerializer.Deserialize(text, BundleJson.Default.Report);
            return report is null || !WholeReport.Is(report) ? throw new SettingException(word, "it is JSON, but no whole report document", Saved)
                : report.Schema > Report.CurrentSchema ? throw new SettingException(word, $"it has schema {report.Schema}, and this program reads {Report.CurrentSchema}", "use the newer program")
                : report;
        }
        catch (JsonException problem)
        {
            throw new SettingException(word, $"it is no report document (line {(problem.LineNumber ?? 0) + 1})", Saved);
        }
    }
}
