using System.Globalization;
using Diagnostics.Agent.Pages;

namespace Diagnostics.Agent.Commands;

/// <summary>Sets a mark in the log of the service that runs on this machine.</summary>
internal sealed class MarkCommand : ICommand
{
    public string Name => "mark";

    public string Words => "[NOTE]";

    public string Summary => "Says \"it just happened\" to the service on this machine: the frames around this moment are kept, with the note.";

    public IReadOnlyList<CommandOption> Options { get; } = [SharedOptions.Port];

    public async Task<int> RunAsync(ParsedArguments arguments, CommandContext context, CancellationToken cancellation)
    {
        if (arguments.Words.Count > 1)
        {
            throw new SettingException("note", "there are several", "put it in quotes: diagnostics mark \"hall lights went off\"");
        }

        // The service would cut it, or refuse what is longer than a form of its page.
        string note = arguments.Words.Count > 0 ? arguments.Words[0].Trim() : string.Empty;
        if (note.Length > Limits.NoteLength)
        {
            throw new SettingException("note", string.Create(CultureInfo.InvariantCulture, $"it has {note.Length:#,0} characters, and a note has {Limits.NoteLength} at most"), "shorten it; nothing was marked");
        }

        using RunningService service = new(AgentSettingsReader.WithPortOnly(arguments, context.Environment).Port);
        await service.PostAsync(
            Marks.Path,
            new Dictionary<string, string> { [Marks.NoteField] = note },
            "mark",
            cancellation).ConfigureAwait(false);
        context.Print("Marked. The frames around this moment are in the log in a few seconds; the page lists them.");
        return CommandLine.Done;
    }
}
