using Diagnostics.Agent.History;
using Diagnostics.Agent.Languages;
using Diagnostics.Agent.Pages;
using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.Commands;

/// <summary>The same analysis over recorded traffic, as fast as the machine can.</summary>
internal sealed class ReplayCommand : ICommand
{
    public string Name => "replay";

    public string Words => "TRACE…";

    public string Summary => "Analyses recorded traffic (pcapng, pcap or the SocketCAN text log; - is standard input) and prints the report.";

    public IReadOnlyList<CommandOption> Options { get; } =
        [SharedOptions.Json, SharedOptions.Html, SharedOptions.BitRate, SharedOptions.Protocol, SharedOptions.Site, SharedOptions.Language];

    public Task<int> RunAsync(ParsedArguments arguments, CommandContext context, CancellationToken cancellation)
    {
        if (arguments.Words.Count == 0)
        {
            throw new SettingException("TRACE", "no trace was named", "name one or more files, or - for standard input");
        }

        if (arguments.Words.Count(word => word == "-") > 1)
        {
            throw new SettingException("-", "standard input is named twice", "name it once");
        }

        if (arguments.Options.TryGetValue(SharedOptions.Html.Name, out string? wanted))
        {
            PageFile.Check(wanted);
        }

        AgentSettings settings = AgentSettingsReader.FromOptions(arguments, context.Environment);
        context.PrintRemarks(settings);
        using IBusSource source = context.Sources.Trace(arguments.Words, context.Input);
        Analyzer analyzer = new(AnalysisService.AnalyzerOptionsFor(settings, source));
        LoadSampler sampler = new(analyzer);
        bool drawsPage = arguments.Options.ContainsKey("--html");
        TraceReading.ToEnd(source, drawsPage ? sampler : analyzer, context, cancellation);
        Report report = analyzer.Snapshot();
        PageModel model = new(report) { Zone = context.Clock.LocalTimeZone, Language = settings.Language ?? Language.English, Remarks = [.. settings.FileRemarks, .. source.Remarks] };
        if (arguments.Options.TryGetValue("--html", out string? file))
        {
            sampler.Finish(report);
            PageFile.Write(file, PageRenderer.SelfContained(model with { Rows = sampler.Rows, RowSeconds = sampler.StepSeconds }));
        }

        if (arguments.Has("--json"))
        {
            context.Output.Write(ReportJson.ToUtf8(report));
            context.Output.Write("\n"u8);
            context.Output.Flush();
        }
        else
        {
            context.Print(TextReport.Render(model));
        }

        return Task.FromResult(CommandLine.Done);
    }
}
