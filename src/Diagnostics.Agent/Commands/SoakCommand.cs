using System.Text.Json;
using Diagnostics.Agent.History;
using Diagnostics.Agent.Pages;
using Diagnostics.Agent.Soaks;
using Diagnostics.Core.Soak;
using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.Commands;

/// <summary>
/// A soak test: begun in the service that runs on this machine, or, where none does, in this process, which is that service until the test is over. The test lives in the
/// log, so whoever opens that log next goes on with it.
/// </summary>
internal sealed class SoakCommand : ICommand
{
    private static readonly CommandOption For = new("--for", "TIME", "How long to listen: 62h, 90min, 3d. Time without power doesn't count.");
    private static readonly CommandOption Named = new("--name", "TEXT", "Heads the record.");
    private static readonly CommandOption Fails = new("--fails", "LIST", "What fails it: severities and findings, with commas; fault,warning unless told otherwise.");
    private static readonly CommandOption ErrorRatio = new("--error-ratio", "X", "Errors per bit that are allowed, or any; 3.1e-9 unless told otherwise (an industrial production line).");
    private static readonly CommandOption Restarts = new("--restarts", "N", "Restarts without a reason that are allowed, or any; 0 unless told otherwise.");
    private static readonly CommandOption Stop = new("--stop", null, "End the test that goes on in the service of this machine.");
    private static readonly CommandOption Record = new("--html", "FILE", "Write the record to hand over into a file that needs nothing else.");

    private static readonly TimeSpan AskInterval = TimeSpan.FromSeconds(1);

    /// <summary>For the log to be opened and made whole, or for a tick of the analysis.</summary>
    private static readonly TimeSpan BeginPatience = TimeSpan.FromSeconds(30);

    public string Name => "soak";

    public string Words => "--for TIME [INTERFACE…]";

    public string Summary => "Listens for a time, judges what came by rules, prints the record to hand over; exit code 0 = passed, 1 = not.";

    public IReadOnlyList<CommandOption> Options { get; } =
        [For, Named, Fails, ErrorRatio, Restarts, Record, Stop, SharedOptions.BitRate, SharedOptions.Protocol, SharedOptions.Site, SharedOptions.Port, SharedOptions.Log, SharedOptions.Language];

    public async Task<int> RunAsync(ParsedArguments arguments, CommandContext context, CancellationToken cancellation)
    {
        AgentSettings settings = AgentSettingsReader.ForService(arguments, context.Environment);
        using RunningService service = new(settings.Port);
        if (arguments.Has(Stop.Name))
        {
            await service.PostAsync(SoakPages.StopPath, new Dictionary<string, string>(), Name, cancellation).ConfigureAwait(false);
            context.Print("The soak test is ended. Its record is on the page.");
            return CommandLine.Done;
        }

        Dictionary<string, string> given = new(StringComparer.Ordinal)
        {
            [SoakPages.SpanField] = arguments.Options.GetValueOrDefault(For.Name) ?? throw new SettingException(For.Name, "it is missing", "say how long to listen, as --for 62h"),
        };
        foreach ((CommandOption option, string field) in new[] { (Named, SoakPages.NameField), (Fails, SoakPages.FailsField), (ErrorRatio, SoakPages.ErrorRatioField), (Restarts, SoakPages.RestartsField) })
        {
            if (arguments.Options.TryGetValue(option.Name, out string? value))
            {
                given[field] = value;
            }
        }

        // Wrong words are told here, before anything begins.
        SoakRequest wish = SoakRequest.Read(
            given.GetValueOrDefault(SoakPages.NameField), given[SoakPages.SpanField], given.GetValueOrDefault(SoakPages.FailsField),
            given.GetValueOrDefault(SoakPages.ErrorRatioField), given.GetValueOrDefault(SoakPages.RestartsField));
        string? file = arguments.Options.GetValueOrDefault(Record.Name);
        if (file is not null)
        {
            PageFile.Check(file);
        }

        SoakRecord? over = settings.Port != 0 && await service.GetAsync(SoakPages.DocumentPath, cancellation).ConfigureAwait(false) is { } before
            ? await InServiceAsync(service, wish, given, before, arguments, context, cancellation).ConfigureAwait(false)
            : await HereAsync(wish, arguments.Has(Named.Name), settings, context, cancellation).ConfigureAwait(false);
        if (over is null)
        {
            return CommandLine.JudgedBad;
        }

        SoakSheet sheet = SoakSheet.Of(over, context.Clock.LocalTimeZone, settings.Site?.Site);
        context.Print(SoakText.Render(sheet));
        if (file is not null)
        {
            PageFile.Write(file, SoakPages.SelfContained(sheet, settings.Language ?? Languages.Language.English));
        }

        return SoakVerdict.Of(over).Outcome == SoakOutcome.Passed ? CommandLine.Done : CommandLine.JudgedBad;
    }

    /// <summary>Begins it there and waits; the test doesn't depend on who waits for it.</summary>
    private static async Task<SoakRecord?> InServiceAsync(
        RunningService service, SoakRequest wish, Dictionary<string, string> given, byte[] before, ParsedArguments arguments, CommandContext context, CancellationToken cancellation)
    {
        if (arguments.Words.Count > 0 || arguments.Has(SharedOptions.Site.Name))
        {
            context.PrintError("note: a service runs on this machine, and the test runs in it, with its interfaces and its as-built record; those named here are not used.");
        }

        SoakRecord? latest = Read(before)?.Record;
        string? old = latest?.Id;
        string? mine = null;
        if (latest is { End: null } && latest.Name == wish.Name && latest.AskedSeconds == wish.Asked.TotalSeconds && SameRules(latest.Rules, wish.Rules))
        {
            mine = latest.Id;
            old = null;
            context.Print($"Going on with the test '{latest.Name}' of the service, of which {SoakVerdict.Hours(latest.ListenedSeconds)} of {SoakVerdict.Hours(latest.AskedSeconds)} are listened.");
        }
        else
        {
            await service.PostAsync(SoakPages.StartPath, given, "soak", cancellation).ConfigureAwait(false);
            context.Print($"The soak test runs in the service; the page shows how it stands. Ending this command doesn't end it: 'diagnostics soak --stop' does.");
        }

        try
        {
            while (true)
            {
                await Task.Delay(AskInterval, context.Clock, cancellation).ConfigureAwait(false);

                // A service that is away for a while, as over a restart, goes on with the test when it is back.
                if (await service.GetAsync(SoakPages.DocumentPath, cancellation).ConfigureAwait(false) is { } answer && Read(answer)?.Record is { } record && record.Id != old)
                {
                    mine ??= record.Id;
                    if (record.Id != mine)
                    {
                        context.PrintError("diagnostics: soak: another test was begun in the service, which ended this one; its record is on the page.");
                        return null;
                    }

                    if (record.End is not null)
                    {
                        return record;
                    }
                }
            }
        }
        catch (OperationCanceledException) when (cancellation.IsCancellationRequested)
        {
            return null;
        }
    }

    private static async Task<SoakRecord?> HereAsync(SoakRequest wish, bool isNamed, AgentSettings settings, CommandContext context, CancellationToken cancellation)
    {
        PagePort.RefuseForbidden(settings.Port);
        context.PrintRemarks(settings);
        if (settings.LogDirectory is null)
        {
            context.PrintError("note: no log is kept (--log DIR), so a power cut ends this test for good.");
        }

        SoakRecord? last = null;
        SettingException? refused = null;
        int code = await ServiceHost.RunAsync(settings, logger => context.Sources.Live(settings, logger), context, cancellation, async (state, ended) =>
        {
            try
            {
                string id = await BeginAsync(wish, isNamed, state, context, ended).ConfigureAwait(false);
                while (last?.End is null)
                {
                    last = state.Soaks.FirstOrDefault(soak => soak.Id == id) ?? last;
                    if (last?.End is null)
                    {
                        await Task.Delay(AskInterval, context.Clock, ended).ConfigureAwait(false);
                    }
                }
            }
            catch (SettingException wrong)
            {
                refused = wrong;
            }
            catch (OperationCanceledException) when (ended.IsCancellationRequested)
            {
            }
        }).ConfigureAwait(false);
        if (refused is not null)
        {
            throw refused;
        }

        if (code == CommandLine.Done && last is { End: null })
        {
            context.PrintError(settings.LogDirectory is null
                ? "note: the test was ended before its time."
                : "note: the test isn't over. Whatever opens this log next ('diagnostics listen' or 'soak') goes on with it.");
        }

        return last;
    }

    /// <summary>Goes on with a test that the log has open, unless another one is named; otherwise begins.</summary>
    private static async Task<string> BeginAsync(SoakRequest wish, bool isNamed, AgentState state, CommandContext context, CancellationToken ended)
    {
        // Whether the log has one open is known once it was read.
        long asked = context.Clock.GetTimestamp();
        while (state.KeepsLog && state.Earlier is null && state.Troubles.IsEmpty && context.Clock.GetElapsedTime(asked) < BeginPatience)
        {
            await Task.Delay(AskInterval, context.Clock, ended).ConfigureAwait(false);
        }

        // Somebody else writes that log: what is kept here would be gone with this process, and nobody could go on with it.
        if (state.KeepsLog && state.Earlier is null && state.Troubles.FirstOrDefault(trouble => trouble.Part == Trouble.OfLog) is { } trouble)
        {
            throw new SettingException("log", trouble.Text.English.Replace(HistoryWriter.NothingKept.English, string.Empty, StringComparison.Ordinal).TrimEnd(' ', '.'), "a soak test needs a log that it can keep");
        }

        if (state.Soaks is [.., { End: null } open] && (!isNamed || open.Name == wish.Name))
        {
            if (open.AskedSeconds != wish.Asked.TotalSeconds || !SameRules(open.Rules, wish.Rules))
            {
                throw new SettingException(
                    "soak",
                    $"the log has the test '{open.Name}' open, of {SoakVerdict.Hours(open.AskedSeconds)} and by rules of its own",
                    "give the same time and rules to go on with it, or another --name to end it and begin this one");
            }

            context.Print($"Going on with the test '{open.Name}', of which {SoakVerdict.Hours(open.ListenedSeconds)} of {SoakVerdict.Hours(open.AskedSeconds)} are listened. (Another --name begins another.)");
            return open.Id;
        }

        if (state.Soaks is [.., { End: null } other])
        {
            context.Print($"The test '{other.Name}', of which {SoakVerdict.Hours(other.ListenedSeconds)} of {SoakVerdict.Hours(other.AskedSeconds)} are listened, is ended for this one.");
        }

        HashSet<string> known = [.. state.Soaks.Select(soak => soak.Id)];
        if (!state.TryStartSoak(wish, out Sentence? why, replaces: true))
        {
            throw new SettingException("soak", why.English.TrimEnd('.'), "begin again");
        }

        while (true)
        {
            if (state.Soaks.LastOrDefault(soak => soak.End is null && !known.Contains(soak.Id)) is { } begun)
            {
                return begun.Id;
            }

            await Task.Delay(AskInterval, context.Clock, ended).ConfigureAwait(false);
        }
    }

    private static bool SameRules(SoakRules a, SoakRules b) =>
        a.MostErrorRatio == b.MostErrorRatio && a.MostRestarts == b.MostRestarts && a.Fails.Order(StringComparer.Ordinal).SequenceEqual(b.Fails.Order(StringComparer.Ordinal));

    private static SoakDocument? Read(byte[] answer)
    {
        try
        {
            return answer.Length == 0 ? null : JsonSerializer.Deserialize(answer, SoakJson.Default.SoakDocument);
        }
        catch (JsonException)
        {
            return null;
        }
    }
}
