using System.Text;
using Diagnostics.Agent.History;
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
        [SharedOptions.Json, SharedOptions.Html, SharedOptions.BitRate, SharedOptions.Protocol, SharedOptions.Site];

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

        AgentSettings settings = AgentSettingsReader.FromOptions(arguments, context.Environment);
        context.PrintRemarks(settings);
        using IBusSource source = context.Sources.Trace(arguments.Words, context.Input);
        Analyzer analyzer = new(AnalysisService.AnalyzerOptionsFor(settings, source));
        LoadSampler sampler = new(analyzer);
        bool drawsPage = arguments.Options.ContainsKey("--html");
        while (source.Read(drawsPage ? sampler : analyzer, Timeout.InfiniteTimeSpan, cancellation))
        {
            cancellation.ThrowIfCancellationRequested();
        }

        foreach (string remark in source.Remarks)
        {
            context.PrintError("note: " + SettingException.OneLine(remark));
        }

        Report report = analyzer.Snapshot();
        PageModel model = new(report) { Zone = context.Clock.LocalTimeZone, Remarks = [.. settings.FileRemarks, .. source.Remarks] };
        if (arguments.Options.TryGetValue("--html", out string? file))
        {
            sampler.Finish(report);
            WritePage(file, PageRenderer.SelfContained(model with { Rows = sampler.Rows, RowSeconds = sampler.StepSeconds }));
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

    private static void WritePage(string file, string page)
    {
        try
        {
            File.WriteAllText(file, page, new UTF8Encoding(encoderShouldEmitUTF8Identifier: false));
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            throw new SettingException("--html", $"'{file}' can't be written ({problem.Message.TrimEnd('.')})", "name a file in a directory that this user may write in");
        }
    }
}
