using Diagnostics.Agent.Bundles;
using Diagnostics.Agent.Boards;
using Diagnostics.Agent.Boards.Sensors;
using Diagnostics.Agent.Boards.Signals;
using Diagnostics.Agent.Commands;
using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Agent.Languages;
using Diagnostics.Agent.Pages;
using Diagnostics.Agent.Records;
using Diagnostics.Can;
using Diagnostics.Core.AsBuilt;
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
internal static partial class ServiceHost
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
        bool isUnderSystemd = context.Environment.GetValueOrDefault("NOTIFY_SOCKET") is { Length: > 0 };
        bool isJournal = isUnderSystemd || context.Environment.GetValueOrDefault("JOURNAL_STREAM") is { Length: > 0 };
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
            services.GetService<ISystemdNotifier>(), context.Clock, context.Environment.GetValueOrDefault("WATCHDOG_USEC")));

        builder.Services.AddSingleton(services => Records(settings, services.GetRequiredService<IBusSource>(), context.Clock, held =>
        {
            state.UseRecord(held.Record);
            services.GetService<HistoryWriter>()?.KeepDocument(KeptDocuments.Site, held.Text);
            TellRemarks(services, held);
        }));

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
                    [KeptDocuments.Site] = services.GetRequiredService<RecordBook>().Held.Text,
                }));
            builder.Services.AddHostedService(services => services.GetRequiredService<HistoryWriter>());
        }

        builder.Services.AddHostedService(services => new BoardService(new(context.Root, settings.LogDirectory), state, context.Clock, services.GetRequiredService<ILogger<BoardService>>()));
        BoardPorts ports = context.Ports ?? BoardPorts.OfThisMachine(context.Clock);
        LiveBundles? bundles = null;
        builder.Services.AddSingleton(new ClipWatch(state, settings.Board, context.Clock));
        builder.Services.AddHostedService(services => new SensorService(
            SensorPlans.Of(settings.Board, ports),
            () => services.GetRequiredService<IBusSource>().ThisMoment,
            state,
            context.Clock,
            services.GetRequiredService<ILogger<SensorService>>()));
        builder.Services.AddHostedService(services => new SignalService(
            settings.Board,
            ports,
            state,
            services.GetRequiredService<ClipWatch>(),
            new(context.Root, settings.Board.Button?.Stick, Bundles(services)),
            settings.Language ?? Language.English,
            context.Clock,
            services.GetRequiredService<ILogger<SignalService>>()));
        builder.Services.AddHostedService(services => new AnalysisService(
            services.GetRequiredService<IBusSource>(),
            settings with { Site = services.GetRequiredService<RecordBook>().Held.Record },
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
                Language = settings.Language,
                Captures = settings.LogDirectory is { } kept ? StoredHistory.CapturesOf(kept, (long)settings.LogMegabytes * BytesPerMegabyte) : null,
                Log = services.GetService<HistoryWriter>(),
                Records = services.GetRequiredService<RecordBook>(),
                Bundles = Bundles(services),
                Board = new(settings.Board, services.GetRequiredService<ClipWatch>()),
            },
            address => context.Print($"report page: {address}"),
            services.GetRequiredService<ILogger<PageService>>(),
            settings.Access));

        using IHost host = builder.Build();
        HeldRecord held = host.Services.GetRequiredService<RecordBook>().Held;
        state.Built = held.Record;
        if (held.Number > 0)
        {
            // Those of a given record were told with the settings.
            TellRemarks(host.Services, held);
        }

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

        // One for the page and the button: only one bundle is made at a time.
        LiveBundles? Bundles(IServiceProvider services) =>
            settings.LogDirectory is { } kept ? bundles ??= new(kept, services.GetRequiredService<HistoryWriter>(), state, context.Clock) : null;
    }

    private static void TellRemarks(IServiceProvider services, HeldRecord held)
    {
        ILogger logger = services.GetRequiredService<ILoggerFactory>().CreateLogger("Diagnostics.Records");
        foreach (AsBuiltRemark remark in held.Remarks)
        {
            LogRemark(logger, held.Number, remark.Said.English);
        }
    }

    [LoggerMessage(45, LogLevel.Warning, "version {Number} of the record: {Remark}")]
    private static partial void LogRemark(ILogger logger, int number, string remark);

    private static RecordBook Records(AgentSettings settings, IBusSource source, TimeProvider clock, Action<HeldRecord> onHeld)
    {
        Func<bool, IStoreFiles?>? open = null;
        if (settings.LogDirectory is { } log)
        {
            string directory = Path.Combine(log, RecordBook.Folder);
            open = make => make || Directory.Exists(directory) ? new DiskStoreFiles(directory) : null;
        }

        return settings.Site is null ? new(source.Site, source.SiteText, open, clock, onHeld) : new(settings.Site, settings.SiteText, open, clock, onHeld);
    }

    /// <summary>Serves a report that isn't live, until it is told to end.</summary>
    /// <param name="port">TCP port; 0 = any free one.</param>
    /// <param name="source">What is shown.</param>
    /// <param name="context">The world.</param>
    /// <param name="cancellation">Ends it.</param>
    public static async Task<int> ServeAsync(int port, PageSource source, CommandContext context, CancellationToken cancellation)
    {
        HostApplicationBuilder builder = Builder(isJournal: false);
        builder.Services.AddHostedService(services => new PageService(
            port,
            source,
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
