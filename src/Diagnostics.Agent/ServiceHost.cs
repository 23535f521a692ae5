using Diagnostics.Agent.Bundles;
using Diagnostics.Agent.Captures;
using Diagnostics.Agent.Boards;
using Diagnostics.Agent.Commands;
using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Agent.Pages;
using Diagnostics.Can;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Hosting;
using Microsoft.Extensions.Hosting.Systemd;
using Microsoft.Extensions.Logging;
using Microsoft.Extensions.Logging.Console;

namespace Diagnostics.Agent;

/// <summary>
/// Puts the service together: analysis, log and page in one host, ready notification and watchdog where systemd started it.
/// Nothing is configured by files or variables besides our own settings, so the host is built empty.
/// </summary>
internal static class ServiceHost
{
    private const int BytesPerMegabyte = 1024 * 1024;

    /// <param name="settings">Checked.</param>
    /// <param name="open">Opens the source, which logs what happens to its interfaces.</param>
    /// <param name="context">The world.</param>
    /// <param name="cancellation">Ends the service.</param>
    /// <param name="alongside">What a command does while the service runs; when that is done, the service ends. Null = until it is ended.</param>
    /// <exception cref="SettingException">The source can't be opened.</exception>
    public static async Task<int> RunAsync(AgentSettings settings, Func<ILogger, IBusSource> open, CommandContext context, CancellationToken cancellation,
        Func<AgentState, CancellationToken, Task>? alongside = null)
    {
        bool isUnderSystemd = context.Environment("NOTIFY_SOCKET") is { Length: > 0 };
        bool isJournal = isUnderSystemd || context.Environment("JOURNAL_STREAM") is { Length: > 0 };
        AgentState state = new() { KeepsLog = settings.LogDirectory is not null };

        HostApplicationBuilder builder = Builder(isJournal);
        if (isUnderSystemd)
        {
            builder.Services.AddSingleton<ISystemdNotifier, SystemdNotifier>();
            builder.Services.AddSingleton<IHostLifetime, SystemdLifetime>();
        }

        builder.Services.AddSingleton(context.Clock);
        builder.Services.AddSingleton(settings);
        builder.Services.AddSingleton(services => open(services.GetRequiredService<ILoggerFactory>().CreateLogger("Diagnostics.Buses")));
        builder.Services.AddSingleton(state);
        builder.Services.AddSingleton(services => new Watchdog(
            services.GetService<ISystemdNotifier>(), context.Clock, context.Environment("WATCHDOG_USEC")));

        // Services start in this order and stop in reverse: the analysis ends before the log, so that its last batch is still written.
        if (settings.LogDirectory is { } directory)
        {
            builder.Services.AddSingleton(services => new HistoryWriter(
                () => StoredHistory.Open(directory, (long)settings.LogMegabytes * BytesPerMegabyte, Instant.FromDateTime(context.Clock.GetUtcNow()), context.Clock, TimeSpan.FromDays(settings.InputDays)),
                state,
                context.Clock,
                services.GetRequiredService<ILogger<HistoryWriter>>(),
                new Dictionary<string, byte[]?>(StringComparer.Ordinal)
                {
                    [KeptDocuments.Settings] = SettingsDocument.ToUtf8(settings),
                    [KeptDocuments.Site] = settings.SiteText ?? services.GetRequiredService<IBusSource>().SiteText,
                }));
            builder.Services.AddHostedService(services => services.GetRequiredService<HistoryWriter>());
        }

        builder.Services.AddHostedService(services => new BoardService(new("/", settings.LogDirectory), state, context.Clock, services.GetRequiredService<ILogger<BoardService>>()));
        builder.Services.AddHostedService(services => new AnalysisService(
            services.GetRequiredService<IBusSource>(),
            settings,
            state,
            services.GetService<HistoryWriter>(),
            services.GetRequiredService<Watchdog>(),
            context.Clock,
            services.GetRequiredService<ILogger<AnalysisService>>()));
        builder.Services.AddHostedService(services => new PageService(
            settings.Port,
            new(state, context.Clock)
            {
                Remarks = settings.FileRemarks,
                Captures = settings.LogDirectory is { } kept ? StoredHistory.CapturesOf(kept, (long)settings.LogMegabytes * BytesPerMegabyte) : null,
                Bundles = settings.LogDirectory is { } handedOn ? new LiveBundles(handedOn, services.GetRequiredService<HistoryWriter>(), state, context.Clock) : null,
            },
            address => context.Print($"report page: {address}"),
            services.GetRequiredService<ILogger<PageService>>()));

        using IHost host = builder.Build();
        state.Built = settings.Site ?? host.Services.GetRequiredService<IBusSource>().Site;

        // Asked for now: the host takes its services with it when it ends.
        BackgroundService[] parts = [.. host.Services.GetServices<IHostedService>().OfType<BackgroundService>()];
        using CancellationTokenSource over = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
        Task companion = alongside is null ? Task.CompletedTask : EndAfterAsync(alongside(state, over.Token), over);
        await host.RunAsync(over.Token).ConfigureAwait(false);
        await over.CancelAsync().ConfigureAwait(false);
        await companion.ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);

        // A bug in a part ends the host, and must not look like a good end: systemd restarts what fails.
        foreach (BackgroundService part in parts)
        {
            if (part.ExecuteTask is { IsFaulted: true } failed)
            {
                await failed.ConfigureAwait(false);
            }
        }

        return CommandLine.Done;
    }

    /// <summary>Serves a report that isn't live, until it is told to end.</summary>
    /// <param name="port">TCP port; 0 = any free one.</param>
    /// <param name="state">What is shown.</param>
    /// <param name="captures">The kept frames that go with it.</param>
    /// <param name="context">The world.</param>
    /// <param name="cancellation">Ends it.</param>
    public static async Task<int> ServeAsync(int port, AgentState state, CaptureFiles captures, CommandContext context, CancellationToken cancellation)
    {
        HostApplicationBuilder builder = Builder(isJournal: false);
        builder.Services.AddHostedService(services => new PageService(
            port,
            new(state, context.Clock) { Captures = captures },
            address => context.Print($"report page: {address}\nCtrl-C ends it."),
            services.GetRequiredService<ILogger<PageService>>()));
        using IHost host = builder.Build();
        await host.RunAsync(cancellation).ConfigureAwait(false);
        return CommandLine.Done;
    }

    private static HostApplicationBuilder Builder(bool isJournal)
    {
        HostApplicationBuilder builder = Host.CreateEmptyApplicationBuilder(new() { ApplicationName = "diagnostics" });
        builder.Logging.SetMinimumLevel(LogLevel.Information);
        builder.Logging.AddFilter("Microsoft", LogLevel.Warning);
        builder.Logging.AddConsole(console =>
        {
            console.FormatterName = isJournal ? ConsoleFormatterNames.Systemd : ConsoleFormatterNames.Simple;
            console.LogToStandardErrorThreshold = LogLevel.Trace;
        });
        builder.Services.Configure<SimpleConsoleFormatterOptions>(line =>
        {
            line.SingleLine = true;
            line.ColorBehavior = LoggerColorBehavior.Disabled;
        });
        return builder;
    }

    private static async Task EndAfterAsync(Task alongside, CancellationTokenSource over)
    {
        try
        {
            await alongside.ConfigureAwait(false);
        }
        finally
        {
            await over.CancelAsync().ConfigureAwait(false);
        }
    }
}
