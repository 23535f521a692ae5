using System.Text;
using Diagnostics.Agent.Access;

namespace Diagnostics.Agent.Commands;

/// <summary>Sets or removes the passcode that other devices need. It is only ever made here: there is none to begin with.</summary>
internal sealed class PasscodeCommand : ICommand
{
    private const string Set = "set";
    private const string Remove = "remove";
    private static readonly CommandOption Print = new("--print", null, "With 'set': make one by chance and print it, once. It is kept as a hash, so nobody can print it again.");

    public string Name => "passcode";

    public string Words => "set|remove";

    public string Summary => "Sets the passcode for reading the page from other devices (asked for twice, or one line on standard input), or removes it, which closes the page to them.";

    public IReadOnlyList<CommandOption> Options { get; } = [Print];

    public async Task<int> RunAsync(ParsedArguments arguments, CommandContext context, CancellationToken cancellation)
    {
        if (arguments.Words is not [Set or Remove] || (arguments.Words[0] == Remove && arguments.Has(Print.Name)))
        {
            throw new SettingException("passcode", "say what to do with it", "write 'passcode set', 'passcode set --print' or 'passcode remove'");
        }

        AccessSettings access = AgentSettingsReader.OfPasscode(context.Environment);
        PasscodeFile file = new(access.PasscodeFile);
        if (arguments.Words[0] == Remove)
        {
            context.Print(file.Remove()
                ? "The passcode is removed: the page is closed to other devices, and whoever had signed in is out."
                : "There was no passcode.");
            return CommandLine.Done;
        }

        string passcode = arguments.Has(Print.Name) ? Passcode.Random() : context.AskHidden is { } ask ? Asked(ask) : Line(context.Input);
        if (Passcode.Objection(passcode, access.Name) is { } objection)
        {
            throw new SettingException("passcode", objection.Why, objection.Remedy);
        }

        file.Write(await PasscodeHash.OfAsync(passcode).ConfigureAwait(false));
        context.Print(arguments.Has(Print.Name)
            ? $"passcode: {passcode}\nWrite it down: it is shown this once. Whoever had signed in from another device has to do so again."
            : "The passcode is set. Whoever had signed in from another device has to do so again.");
        return CommandLine.Done;
    }

    private static string Asked(Func<string, string> ask)
    {
        string first = ask("New passcode (it is not shown): ");
        return ask("Once more: ") == first ? first : throw new SettingException("passcode", "the two are not the same", "try again; nothing was changed");
    }

    /// <summary>One line, of which the end is no part.</summary>
    private static string Line(Stream input)
    {
        byte[] bytes = new byte[(4 * Limits.LongestPasscode) + 3];
        int length = input.ReadAtLeast(bytes, bytes.Length, throwOnEndOfStream: false);
        string text = Encoding.UTF8.GetString(bytes, 0, length);
        text = text.EndsWith('\n') ? text[..^1] : text;
        return text.EndsWith('\r') ? text[..^1] : text;
    }
}
