using System.Text.Json;
using Diagnostics.Agent.Bundles;
using Diagnostics.Agent.History;
using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Core.Comparison;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.Commands;

/// <summary>
/// Reads a side of a comparison, whatever it is: the directory of a log, a bundle, a saved report document or a trace; - is a trace on standard input. What it is shows in its
/// first bytes, not in its name.
/// </summary>
internal sealed class PeriodReader(AgentSettings settings, CommandContext context, CancellationToken cancellation)
{
    private const string StandardInput = "-";

    /// <summary>Blanks and a byte order mark may stand before a document.</summary>
    private const int SniffedBytes = 64;

    private enum SideKind
    {
        Trace,
        Log,
        Bundle,
        Report,
    }

    /// <summary>All of one side.</summary>
    /// <exception cref="SettingException">It can't be read.</exception>
    public ObservedPeriod Whole(string word) => KindOf(word) switch
    {
        SideKind.Log => WithLog(word, word, "log", log => log.Of(null, null)),
        SideKind.Bundle => WithBundle(word, log => log.Of(null, null)),
        SideKind.Report => ObservedPeriod.Of(Document(word), "report", NameOf(word)),
        _ => Trace(word),
    };

    /// <summary>One side cut in two.</summary>
    /// <param name="word">A log, a bundle or a trace.</param>
    /// <param name="at">Where the second begins.</param>
    /// <param name="from">Where the first begins; null = at its beginning.</param>
    /// <param name="until">Where the second ends; null = at its end.</param>
    /// <exception cref="SettingException">It can't be read or cut, or one part has nothing.</exception>
    public (ObservedPeriod Before, ObservedPeriod After) Halves(string word, Instant at, Instant? from, Instant? until)
    {
        SideKind kind = KindOf(word);
        if (kind == SideKind.Report)
        {
            throw new SettingException("--at", $"'{word}' is a report document, which can't be cut in two", "name a log, a bundle or a trace, or two documents");
        }

        if (kind == SideKind.Trace && (from is not null || until is not null))
        {
            throw new SettingException(from is not null ? "--from" : "--until", "it cuts logs and bundles, not traces", "leave it out");
        }

        (ObservedPeriod before, ObservedPeriod after) = kind switch
        {
            SideKind.Log => WithLog(word, word, "log", log => (log.Of(from, at), log.Of(at, until))),
            SideKind.Bundle => WithBundle(word, log => (log.Of(from, at), log.Of(at, until))),
            _ => TraceHalves(word, at),
        };
        if (before.Start is null || after.Start is null)
        {
            bool isBefore = before.Start is null;
            string ends = (isBefore ? after.Start : before.End) is { } edge ? $", it {(isBefore ? "begins" : "ends")} at {edge.WholeSecond}" : string.Empty;
            throw new SettingException("--at", $"'{word}' has nothing {(isBefore ? "before" : "after")} {at}{ends}", "give a moment within it");
        }

        return (before, after);
    }

    private static string NameOf(string word) => word == StandardInput ? "standard input" : Path.GetFileName(Path.TrimEndingDirectorySeparator(word)) is { Length: > 0 } name ? name : word;

    private static SideKind KindOf(string word)
    {
        if (word == StandardInput)
        {
            return SideKind.Trace;
        }

        if (Directory.Exists(word))
        {
            return SideKind.Log;
        }

        // Of a pipe the first bytes can be read only once.
        if (FileKind.Oddity(word) is not null)
        {
            return SideKind.Trace;
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
            throw new SettingException(word, why, "name a trace, the directory of a log, a bundle or a report document");
        }

        return first.StartsWith("PK"u8) ? SideKind.Bundle
            : first.TrimStart("\uFEFF \t\r\n"u8) is [(byte)'{', ..] ? SideKind.Report
            : SideKind.Trace;
    }

    private ObservedPeriod Trace(string word)
    {
        using IBusSource source = context.Sources.Trace([word], context.Input);
        Analyzer analyzer = new(AnalysisService.AnalyzerOptionsFor(settings, source));
        TraceReading.ToEnd(source, analyzer, context, cancellation);
        return ObservedPeriod.Of(analyzer.Snapshot(), "trace", NameOf(word));
    }

    private (ObservedPeriod Before, ObservedPeriod After) TraceHalves(string word, Instant at)
    {
        using IBusSource source = context.Sources.Trace([word], context.Input);
        Analyzer before = new(AnalysisService.AnalyzerOptionsFor(settings, source));
        Analyzer after = new(AnalysisService.AnalyzerOptionsFor(settings, source));
        TraceReading.ToEnd(source, new SplitSink(before, after, at), context, cancellation);
        return (ObservedPeriod.Of(before.Snapshot(), "trace", NameOf(word)), ObservedPeriod.Of(after.Snapshot(), "trace", NameOf(word)));
    }

    private T WithLog<T>(string word, string directory, string kind, Func<ObservedLog, T> read, bool isLive = false)
    {
        try
        {
            using StoredHistory log = StoredHistory.OpenReadOnly(directory, context.Clock, isLive);
            if (log.LastSequence == 0)
            {
                throw new SettingException(word, "there is no log in it", "name the directory of a log, or the traces in it one by one");
            }

            foreach (string remark in log.Remarks)
            {
                context.PrintError("note: " + SettingException.OneLine($"{word}: {remark}"));
            }

            return read(new(log, kind, NameOf(word)));
        }
        catch (HistoryException problem)
        {
            throw new SettingException(word, problem.Message.TrimEnd('.'), "check the path, and that this user may read it");
        }
    }

    private T WithBundle<T>(string word, Func<ObservedLog, T> read)
    {
        DirectoryInfo directory = Directory.CreateTempSubdirectory("diagnostics-bundle-");
        try
        {
            ExtractedBundle bundle = BundleReader.Extract(word, directory.FullName);
            return WithLog(word, bundle.Directory, "bundle", read, bundle.Manifest.FromRunningService);
        }
        finally
        {
            directory.Delete(recursive: true);
        }
    }

    private static Report Document(string word)
    {
        const string Remedy = "give a report document as --json or /report.json wrote it";
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
            throw new SettingException(word, $"it has more than {Limits.ReportBytes} bytes, which is the limit", Remedy);
        }

        try
        {
            ReadOnlySpan<byte> text = bytes.AsSpan().StartsWith("\uFEFF"u8) ? bytes.AsSpan(3) : bytes;
            Report? report = JsonSerializer.Deserialize(text, BundleJson.Default.Report);
            return report is null || !WholeReport.Is(report) ? throw new SettingException(word, "it is JSON, but no whole report document", Remedy)
                : report.Schema > Report.CurrentSchema ? throw new SettingException(word, $"it has schema {report.Schema}, and this program reads {Report.CurrentSchema}", "compare with the newer program")
                : report;
        }
        catch (JsonException problem)
        {
            throw new SettingException(word, $"it is no report document (line {(problem.LineNumber ?? 0) + 1})", Remedy);
        }
    }
}
