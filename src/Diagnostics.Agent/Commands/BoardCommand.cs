using System.Text.Json;
using Diagnostics.Agent.Boards;
using Diagnostics.Agent.Boards.Sensors;
using Diagnostics.Agent.Boards.Signals;
using Diagnostics.Agent.Languages;
using Diagnostics.Can;

namespace Diagnostics.Agent.Commands;

/// <summary>What is fitted to the board, as the service that runs here sees it; where none does, the sensors are read here.</summary>
internal sealed class BoardCommand : ICommand
{
    private static readonly CommandOption PrintedCard = new("--card", null, "Print the card that says what the status light means; nothing is looked at.");

    /// <summary>A sensor that gave nothing by then hangs; the service's own patience and a second.</summary>
    private static readonly TimeSpan Patience = Limits.SensorHangs + TimeSpan.FromSeconds(1);

    public string Name => "board";

    public string Words => string.Empty;

    public string Summary => "Lists what is fitted to this board, what it measures now, and the check after clipping on in words.";

    public IReadOnlyList<CommandOption> Options { get; } = [PrintedCard, SharedOptions.Port, SharedOptions.Language];

    public async Task<int> RunAsync(ParsedArguments arguments, CommandContext context, CancellationToken cancellation)
    {
        if (arguments.Words.Count > 0)
        {
            throw new SettingException(arguments.Words[0], "'board' takes options only", "see 'diagnostics board --help'");
        }

        (BoardSettings settings, int port, Language? language) = AgentSettingsReader.OfBoard(arguments, context.Environment);
        if (arguments.Has(PrintedCard.Name))
        {
            context.Print(Card.Render(language ?? Language.English).TrimEnd('\n'));
            return CommandLine.Done;
        }

        using RunningService service = new(port);
        if (port != 0 && await service.GetAsync(BoardDocument.Path, cancellation).ConfigureAwait(false) is { Length: > 0 } answer && Read(answer) is { } document)
        {
            context.Print(BoardText.Render(document));
            return CommandLine.Done;
        }

        context.PrintError($"note: no service answers on port {port}; the sensors are read here; light, display, button and the check after clipping on need the service.");
        SensorState[] sensors = await Task.WhenAll(SensorPlans.Of(settings, context.Ports ?? BoardPorts.OfThisMachine(context.Clock)).Select(plan => LookAsync(plan, context.Clock, cancellation))).ConfigureAwait(false);
        context.Print(BoardText.Render(BoardDocument.Of(settings, sensors, null, null)));
        return CommandLine.Done;
    }

    /// <summary>As the service looks, until it was found or not.</summary>
    private static async Task<SensorState> LookAsync(SensorPlan plan, TimeProvider clock, CancellationToken cancellation)
    {
        TaskCompletionSource<SensorState> known = new(TaskCreationOptions.RunContinuationsAsynchronously);
        SensorState latest = new(plan.Kind, plan.Name, plan.Part, SensorCondition.Looking, null, []);
        using CancellationTokenSource over = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
        SensorRunner runner = new(plan, () => Instant.FromDateTime(clock.GetUtcNow()), new(), (_, _) => { }, Show, clock);
        runner.Start(over.Token);
        try
        {
            return await known.Task.WaitAsync(Patience, clock, cancellation).ConfigureAwait(false);
        }
        catch (TimeoutException)
        {
            runner.Look();
            return Volatile.Read(ref latest);
        }
        finally
        {
            await over.CancelAsync().ConfigureAwait(false);
        }

        void Show(SensorState state)
        {
            Volatile.Write(ref latest, state);
            if (state.Condition == SensorCondition.InTrouble || state.Values.Count > 0)
            {
                known.TrySetResult(state);
            }
        }
    }

    private static BoardDocument? Read(byte[] answer)
    {
        try
        {
            return JsonSerializer.Deserialize(answer, BoardJson.Default.BoardDocument);
        }
        catch (JsonException)
        {
            return null;
        }
    }
}
