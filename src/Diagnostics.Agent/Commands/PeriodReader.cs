using Diagnostics.Agent.Bundles;
using Diagnostics.Agent.History;
using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Core.Comparison;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.Commands;

/// <summary>
/// Reads a side of a comparison, whatever it is: the directory of a log, a bundle, a saved report document or a trace; - is a trace on standard input.
/// </summary>
internal sealed class PeriodReader(AgentSettings settings, CommandContext context, CancellationToken cancellation)
{
    /// <summary>All of one side.</summary>
    /// <exception cref="SettingException">It can't be read.</exception>
    public ObservedPeriod Whole(string word) => SourceFile.KindOf(word) switch
    {
        SourceKind.Log => WithLog(word, word, "log", log => log.Of(null, null)),
        SourceKind.Bundle => WithBundle(word, log => log.Of(null, null)),
        SourceKind.Report => ObservedPeriod.Of(SourceFile.Document(word), "report", NameOf(word)),
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
        SourceKind kind = SourceFile.KindOf(word);
        if (kind == SourceKind.Report)
        {
            throw new SettingException("--at", $"'{word}' is a report document, which can't be cut in two", "name a log, a bundle or a trace, or two documents");
        }

        if (kind == SourceKind.Trace && (from is not null || until is not null))
        {
            throw new SettingException(from is not null ? "--from" : "--until", "it cuts logs and bundles, not traces", "leave it out");
        }

        (ObservedPeriod before, ObservedPeriod after) = kind switch
        {
            SourceKind.Log => WithLog(word, word, "log", log => (log.Of(from, at), log.Of(at, until))),
            SourceKind.Bundle => WithBundle(word, log => (log.Of(from, at), log.Of(at, until))),
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

    private static string NameOf(string word) => word == SourceFile.StandardInput ? "standard input" : Path.GetFileName(Path.TrimEndingDirectorySeparator(word)) is { Length: > 0 } name ? name : word;

    private ObservedPeriod Trace(string word)
    {
        using IBusSource source = context.Sources.Trace([word], context.Input);
        Analyzer analyzer = new(AnalysisService.AnalyzerOptionsFor(settings, source));
        TraceReading.ToEnd(source, analyzer, context, cancellation, SourceFile.Remedy);
        return ObservedPeriod.Of(analyzer.Snapshot(), "trace", NameOf(word));
    }

    private (ObservedPeriod Before, ObservedPeriod After) TraceHalves(string word, Instant at)
    {
        using IBusSource source = context.Sources.Trace([word], context.Input);
        Analyzer before = new(AnalysisService.AnalyzerOptionsFor(settings, source));
        Analyzer after = new(AnalysisService.AnalyzerOptionsFor(settings, source));
        Analyzer whole = new(AnalysisService.AnalyzerOptionsFor(settings, source));
        TraceReading.ToEnd(source, new SplitSink(before, after, whole, at), context, cancellation, SourceFile.Remedy);
        ObservedPeriod earlier = ObservedPeriod.Of(before.Snapshot(), "trace", NameOf(word));
        return (earlier, ObservedPeriod.Of(after.Snapshot(), "trace", NameOf(word)).WithSilencesOf(earlier, whole.Snapshot()));
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

            foreach (Sentence remark in log.Remarks)
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
}
