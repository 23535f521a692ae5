using System.Globalization;
using System.Text;
using Diagnostics.Agent.Pages;
using Diagnostics.Core;

namespace Diagnostics.Agent.Commands;

/// <summary>Writes the hand-over record: of the service that runs here, or of a record that is named.</summary>
internal sealed class ReportCommand : ICommand
{
    private static readonly CommandOption Html = SharedOptions.Html with { Help = "Write the record as a page that needs nothing else; it prints on A4." };
    private static readonly CommandOption Pdf = new(PageFile.Pdf, "FILE", "Write it as a PDF, where the browser Chromium is installed. No PDF is written over.");
    private static readonly CommandOption Port = SharedOptions.Port with { Help = $"TCP port of the service's page, where no source is named; {AgentSettings.DefaultPort} unless told otherwise." };

    /// <summary>What a page of ours begins with; whatever else answers at that port isn't printed.</summary>
    private static readonly byte[] Beginning = "<!doctype html>\n<html"u8.ToArray();

    public string Name => "report";

    public string Words => "[BUNDLE | DIR | REPORT | TRACE…] --html FILE | --pdf FILE";

    public string Summary => "Writes the record to hand over, with a space to sign: of the service that runs here, or of a bundle, a log (its directory), a saved report document or traces.";

    public IReadOnlyList<CommandOption> Options { get; } = [Html, Pdf, SharedOptions.BitRate, SharedOptions.Protocol, SharedOptions.Site, Port, SharedOptions.Language];

    public async Task<int> RunAsync(ParsedArguments arguments, CommandContext context, CancellationToken cancellation)
    {
        string? html = arguments.Options.GetValueOrDefault(Html.Name);
        string? pdf = arguments.Options.GetValueOrDefault(Pdf.Name);
        if (html is null && pdf is null)
        {
            throw new SettingException(Name, "it isn't said where to", "give --html FILE or --pdf FILE");
        }

        // Before anything takes time.
        foreach ((string? file, string option) in new[] { (html, PageFile.Html), (pdf, PageFile.Pdf) })
        {
            if (file is not null)
            {
                PageFile.Check(file, option);
            }
        }

        PdfPrinter? printer = pdf is null ? null : PdfPrinter.Find(context.Environment);
        using Interruption interruption = new(cancellation);
        try
        {
            string page = arguments.Words.Count == 0
                ? await OfServiceAsync(arguments, context, interruption.Token).ConfigureAwait(false)
                : RecordPage.SelfContained(ModelOf(arguments, context, interruption.Token));
            if (html is not null)
            {
                PageFile.Write(html, page);
                Tell(context, html);
            }

            if (printer is not null)
            {
                PageFile.Write(pdf!, await printer.PrintAsync(page, interruption.Token).ConfigureAwait(false), PageFile.Pdf);
                Tell(context, pdf!);
            }
        }
        catch (OperationCanceledException) when (interruption.Token.IsCancellationRequested)
        {
            throw new SettingException(Name, "it was interrupted", "start it again");
        }

        return CommandLine.Done;
    }

    private static void Tell(CommandContext context, string file) =>
        context.Print(SettingException.OneLine(string.Create(CultureInfo.InvariantCulture, $"{Path.GetFullPath(file)}: {Math.Max(1, new FileInfo(file).Length / 1024):#,0} KB, the record to hand over")));

    /// <summary>Drawn by the service, which has the zone, the site and the soak tests.</summary>
    private static async Task<string> OfServiceAsync(ParsedArguments arguments, CommandContext context, CancellationToken cancellation)
    {
        foreach (CommandOption option in new[] { SharedOptions.BitRate, SharedOptions.Protocol, SharedOptions.Site })
        {
            if (arguments.Has(option.Name))
            {
                throw new SettingException(option.Name, "it is for traces, and none is named", "name a trace; the service has its own settings");
            }
        }

        (int port, Languages.Language? language) = AgentSettingsReader.OfPage(arguments, context.Environment);
        string which = string.Create(CultureInfo.InvariantCulture, $"port {port}");
        using RunningService service = new(port);
        byte[] page = await service.GetAsync(RecordPage.FilePath, language, cancellation).ConfigureAwait(false)
            ?? throw new SettingException(which, "no service answers there", "start 'diagnostics listen', name its port with --port, or name a bundle, the directory of a log or a trace");
        return page.Length <= Limits.RecordBytes && page.AsSpan().StartsWith(Beginning)
            ? Encoding.UTF8.GetString(page)
            : throw new SettingException(which, "what answers there gives no hand-over record", "update the service, or name its port with --port");
    }

    private static PageModel ModelOf(ParsedArguments arguments, CommandContext context, CancellationToken cancellation)
    {
        SourceKind[] kinds = [.. arguments.Words.Select(SourceFile.KindOf)];
        if (kinds.Length > 1 && Array.Exists(kinds, kind => kind != SourceKind.Trace))
        {
            throw new SettingException(Array.Find(arguments.Words.ToArray(), word => SourceFile.KindOf(word) != SourceKind.Trace)!, "it is named together with others, and only traces go together", "name one bundle, log or report document, or several traces");
        }

        if (arguments.Words.Count(word => word == SourceFile.StandardInput) > 1)
        {
            throw new SettingException(SourceFile.StandardInput, "standard input is named twice", "name it once");
        }

        AgentSettings settings = AgentSettingsReader.FromOptions(arguments, context.Environment);
        Languages.Language language = settings.Language ?? Languages.Language.English;
        context.PrintRemarks(settings);
        switch (kinds[0])
        {
            case SourceKind.Bundle or SourceKind.Log:
                using (ShownLog log = ShownLog.Open(arguments.Words[0], context.Clock))
                {
                    PageModel model = PageModel.Of(log.State, context.Clock);
                    return model with { Built = settings.Site ?? model.Built, Language = language };
                }

            case SourceKind.Report:
                return new(SourceFile.Document(arguments.Words[0])) { Zone = context.Clock.LocalTimeZone, Built = settings.Site, Language = language };

            default:
                using (IBusSource source = context.Sources.Trace(arguments.Words, context.Input))
                {
                    Analyzer analyzer = new(AnalysisService.AnalyzerOptionsFor(settings, source));
                    TraceReading.ToEnd(source, analyzer, context, cancellation, SourceFile.Remedy);
                    return new(analyzer.Snapshot()) { Zone = context.Clock.LocalTimeZone, Built = settings.Site, Language = language, Remarks = [.. settings.FileRemarks, .. source.Remarks] };
                }
        }
    }
}
