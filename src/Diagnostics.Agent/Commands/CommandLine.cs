using System.Reflection;
using System.Text;

namespace Diagnostics.Agent.Commands;

/// <summary>Finds the command, prints help and version, and turns what is wrong into one line and exit code 2.</summary>
internal static class CommandLine
{
    public const int Done = 0;
    public const int JudgedBad = 1;
    public const int Refused = 2;

    private static readonly ICommand[] Commands =
        [new ListenCommand(), new ReplayCommand(), new CompareCommand(), new DemoCommand(), new MarkCommand(), new BoardCommand(), new SoakCommand(), new BundleCommand(), new OpenCommand(), new ReportCommand(), new PasscodeCommand()];

    public static async Task<int> RunAsync(IReadOnlyList<string> arguments, CommandContext context, CancellationToken cancellation)
    {
        try
        {
            if (arguments.Count == 0)
            {
                throw new SettingException("command", "none was given", $"choose {string.Join(", ", Commands.Select(known => known.Name))}, or see 'diagnostics --help'");
            }

            if (arguments[0] is "--help" or "-h" or "help")
            {
                context.Print(arguments.Count > 1 ? Help(Find(arguments[1])) : Help());
                return Done;
            }

            if (arguments[0] is "--version")
            {
                context.Print("diagnostics " + Version);
                return Done;
            }

            ICommand command = Find(arguments[0]);
            string[] rest = arguments.Skip(1).ToArray();
            if (rest.TakeWhile(argument => argument != "--").Any(argument => argument is "--help" or "-h"))
            {
                context.Print(Help(command));
                return Done;
            }

            ParsedArguments given = ArgumentReader.Read(command.Name, rest, command.Options);
            AgentSettingsReader.RefuseUnknownVariables(context.Environment);
            return await command.RunAsync(given, context, cancellation).ConfigureAwait(false);
        }
        catch (SettingException wrong)
        {
            context.PrintError("diagnostics: " + wrong.Message);
            return Refused;
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException { InnerException: IOException })
        {
            // An output that was closed before we began is "access denied" to the console, which hides the reason inside.
            string why = (problem as IOException ?? problem.InnerException!).Message.TrimEnd('.');
            context.PrintError($"diagnostics: output: {SettingException.OneLine(why)}; free space there, or write elsewhere.");
            return Refused;
        }
    }

    private static ICommand Find(string word) => Commands.FirstOrDefault(known => known.Name == word) ?? throw Unknown(word);

    /// <summary>Without the commit that the build may append.</summary>
    public static string Version { get; } =
        (typeof(CommandLine).Assembly.GetCustomAttribute<AssemblyInformationalVersionAttribute>()?.InformationalVersion ?? "0").Split('+')[0];

    private static SettingException Unknown(string word)
    {
        string? nearest = Nearest.Of(word, Commands.Select(known => known.Name).Append("--help").Append("--version"));
        return new(
            $"command '{word}'",
            "there is no such command",
            nearest is null ? $"choose {string.Join(", ", Commands.Select(known => known.Name))}, or see 'diagnostics --help'" : $"the nearest one is '{nearest}'");
    }

    private static string Help()
    {
        StringBuilder text = new();
        text.AppendLine("Listens to a CAN bus without sending anything, and says what is wrong, how sure it is,");
        text.AppendLine("since when, and where to look next.");
        text.AppendLine();
        foreach (ICommand command in Commands)
        {
            text.Append("  diagnostics ").Append(command.Name).Append(' ').AppendLine(command.Words);
            text.Append("      ").AppendLine(command.Summary);
        }

        text.AppendLine();
        text.AppendLine("  diagnostics COMMAND --help    the options of a command");
        text.AppendLine("  diagnostics --version         the version of this program");
        text.AppendLine();
        text.Append("Exit codes: 0 done; 1 what was to be judged was judged bad; 2 an argument, a file or a setting is wrong.");
        return text.ToString().ReplaceLineEndings("\n");
    }

    private static string Help(ICommand command)
    {
        StringBuilder text = new();
        text.Append("diagnostics ").Append(command.Name).Append(' ').AppendLine(command.Words);
        text.AppendLine();
        text.Append("  ").AppendLine(command.Summary);
        text.AppendLine();
        int width = command.Options.Max(option => Left(option).Length);
        foreach (CommandOption option in command.Options)
        {
            text.Append("  ").Append(Left(option).PadRight(width)).Append("  ").AppendLine(option.Help);
        }

        return text.ToString().ReplaceLineEndings("\n").TrimEnd('\n');

        static string Left(CommandOption option) => option.Value is null ? option.Name : option.Name + " " + option.Value;
    }
}
