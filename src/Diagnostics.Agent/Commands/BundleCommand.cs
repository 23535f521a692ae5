using System.Globalization;
using System.Net;
using Diagnostics.Agent.Bundles;
using Diagnostics.Agent.History;
using Diagnostics.Agent.Pages;

namespace Diagnostics.Agent.Commands;

/// <summary>Puts the log into one file for somebody else: by the service that runs here, or from the files of a log.</summary>
internal sealed class BundleCommand : ICommand
{
    private static readonly CommandOption Log = SharedOptions.Log with { Help = "Directory of the log; that of the service unless told otherwise." };
    private static readonly CommandOption Port = SharedOptions.Port with { Help = $"TCP port of the service's page, which is asked first; {AgentSettings.DefaultPort} unless told otherwise." };
    private static readonly CommandOption To = new("--to", "FILE|DIR", "Where to, for example a mounted stick; the current directory unless told otherwise. Nothing is written over.");
    private static readonly CommandOption WithoutInputs = new("--without-inputs", null, "Leave out changes of inputs, kept frames and what happened around marks, which show when people were present.");

    /// <summary>How long the service may take to begin: it waits for its log.</summary>
    private static readonly TimeSpan BeginPatience = Limits.LogAnswer + TimeSpan.FromSeconds(10);

    /// <summary>How long it may pause in the middle: a card that is busy.</summary>
    private static readonly TimeSpan PausePatience = TimeSpan.FromSeconds(60);

    public string Name => "bundle";

    public string Words => string.Empty;

    public string Summary => "Writes report, log, kept frames, settings and as-built record into one file that 'open' shows elsewhere.";

    public IReadOnlyList<CommandOption> Options { get; } = [To, WithoutInputs, Log, Port];

    public async Task<int> RunAsync(ParsedArguments arguments, CommandContext context, CancellationToken cancellation)
    {
        if (arguments.Words.Count > 0)
        {
            throw new SettingException(arguments.Words[0], "'bundle' takes options only", "name where to with --to");
        }

        (string log, bool isNamed, int port) = AgentSettingsReader.OfRunningService(arguments, context.Environment);
        log = Path.GetFullPath(log);
        string place = Path.GetFullPath(arguments.Options.GetValueOrDefault(To.Name, "."));
        if (!Directory.Exists(place) && !place.EndsWith(".zip", StringComparison.OrdinalIgnoreCase))
        {
            // A stick that isn't mounted leaves no directory: a file of its name would lie on the board's own card.
            throw new SettingException(To.Name, $"there is no directory '{place}', and the name of a bundle ends in .zip", "mount the stick first, or name a file that ends in .zip");
        }

        bool withoutInputs = arguments.Has(WithoutInputs.Name);
        using RunningService service = new(port, BeginPatience);
        using Interruption interruption = new(cancellation);
        try
        {
            (HttpResponseMessage? answer, string? refusal) = await AskAsync(service, port, isNamed ? log : null, withoutInputs, interruption.Token).ConfigureAwait(false);
            using (answer)
            {
                Func<Stream, CancellationToken, Task> write = answer is not null
                    ? (target, stop) => DownloadAsync(answer, target, stop)
                    : FromFiles(log, withoutInputs, context.Clock, refusal!, isNamed);
                (string path, BundleManifest manifest) = await BundleFileWriter.WriteAsync(place, write, interruption.Token).ConfigureAwait(false);
                Tell(context, path, manifest, answer is not null ? "From the service that runs here." : $"From the files in '{log}' ({refusal}).");
            }

            return CommandLine.Done;
        }
        catch (OperationCanceledException) when (interruption.Token.IsCancellationRequested)
        {
            throw new SettingException("bundle", "it was interrupted", "nothing was left of it; start it again");
        }
    }

    private static void Tell(CommandContext context, string path, BundleManifest manifest, string whence)
    {
        context.Print(string.Create(CultureInfo.InvariantCulture, $"{path}: {Math.Max(1, new FileInfo(path).Length / 1024):#,0} KB, written and checked"));
        context.Print(BundleWords.Of(manifest));
        context.Print(SettingException.OneLine(whence));
        foreach (string sentence in manifest.LeftOut)
        {
            context.Print(SettingException.OneLine(sentence));
        }

        context.Print(manifest.WithoutInputs
            ? "What stays may still hint at when people were present: findings about inputs, marks, and the load."
            : "It shows when people were present; with --without-inputs most of that is left out.");
        context.Print($"Open it with: diagnostics open {path}");
    }

    /// <returns>The answer whose body is the bundle, or why there is none.</returns>
    private static async Task<(HttpResponseMessage? Answer, string? Refusal)> AskAsync(RunningService service, int port, string? log, bool withoutInputs, CancellationToken cancellation)
    {
        HttpResponseMessage? answer = await service.AnswerToAsync(
            HandOn.Path,
            new Dictionary<string, string> { [HandOn.InputsField] = withoutInputs ? HandOn.Leave : HandOn.Keep, [HandOn.LogField] = log ?? string.Empty },
            cancellation).ConfigureAwait(false);
        if (answer is null)
        {
            return (null, string.Create(CultureInfo.InvariantCulture, $"no service answers on port {port}"));
        }

        if (answer.StatusCode == HttpStatusCode.OK && answer.Content.Headers.ContentType?.MediaType == "application/zip")
        {
            return (answer, null);
        }

        using (answer)
        {
            // What else may answer there says nothing that matters here.
            string why = answer.Content.Headers is { ContentType.MediaType: "text/plain", ContentLength: null or < RunningService.MostRefusalBytes }
                ? await RunningService.SentenceAsync(answer, cancellation).ConfigureAwait(false)
                : answer.StatusCode.ToString();
            return (null, string.Create(CultureInfo.InvariantCulture, $"port {port} gave none: {why}"));
        }
    }

    private static Func<Stream, CancellationToken, Task> FromFiles(string log, bool withoutInputs, TimeProvider clock, string refusal, bool isNamed)
    {
        try
        {
            BundleContent content = KeptLog.ContentOf(log, withoutInputs, clock);
            return (target, stop) => BundleWriter.WriteAsync(target, content, stop);
        }
        catch (HistoryException problem)
        {
            throw new SettingException("log", $"{refusal}, and {char.ToLowerInvariant(problem.Message[0])}{problem.Message[1..].TrimEnd('.')}", isNamed ? "check the directory" : "name the log's directory with --log, or the port of the service with --port");
        }
    }

    private static async Task DownloadAsync(HttpResponseMessage answer, Stream target, CancellationToken cancellation)
    {
        Stream body = await answer.Content.ReadAsStreamAsync(cancellation).ConfigureAwait(false);
        await using (body.ConfigureAwait(false))
        {
            byte[] buffer = new byte[128 * 1024];
            for (long bytes = 0; bytes <= Limits.BundleBytes;)
            {
                using CancellationTokenSource patience = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
                patience.CancelAfter(PausePatience);
                int length;
                try
                {
                    length = await body.ReadAsync(buffer, patience.Token).ConfigureAwait(false);
                }
                catch (Exception problem) when (problem is IOException or HttpRequestException || (problem is OperationCanceledException && !cancellation.IsCancellationRequested))
                {
                    throw new SettingException("bundle", "the service broke off in the middle", "look at its page for what is wrong; with its service ended, a bundle is made from the files of the log");
                }

                if (length == 0)
                {
                    return;
                }

                await target.WriteAsync(buffer.AsMemory(0, length), cancellation).ConfigureAwait(false);
                bytes += length;
            }
        }
    }
}
