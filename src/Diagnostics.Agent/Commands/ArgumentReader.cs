namespace Diagnostics.Agent.Commands;

/// <summary>
/// Reads a command's arguments against its closed list of options: <c>--name value</c>, <c>--name=value</c>, <c>--</c> ends the options,
/// a lone <c>-</c> is a word. An option that isn't known is refused, and the nearest one is named.
/// </summary>
internal static class ArgumentReader
{
    /// <exception cref="SettingException">An argument is wrong.</exception>
    public static ParsedArguments Read(string command, IReadOnlyList<string> arguments, IReadOnlyList<CommandOption> options)
    {
        List<string> words = [];
        Dictionary<string, string> given = new(StringComparer.Ordinal);
        bool optionsEnded = false;
        for (int index = 0; index < arguments.Count; index++)
        {
            string argument = arguments[index];
            if (argument.Length == 0)
            {
                throw new SettingException($"argument {index + 1} of '{command}'", "it is empty", "leave it out, or write what you mean");
            }

            if (optionsEnded || argument.Length < 2 || argument[0] != '-')
            {
                words.Add(argument);
                continue;
            }

            if (argument == "--")
            {
                optionsEnded = true;
                continue;
            }

            int equals = argument.IndexOf('=', StringComparison.Ordinal);
            string name = equals < 0 ? argument : argument[..equals];
            CommandOption option = options.FirstOrDefault(known => known.Name == name) ?? throw Unknown(command, name, options);
            string value = string.Empty;
            if (option.Value is null)
            {
                if (equals >= 0)
                {
                    throw new SettingException(name, "this option takes no value", $"write it as {name} alone");
                }
            }
            else if (equals >= 0)
            {
                value = argument[(equals + 1)..];
            }
            else if (index + 1 < arguments.Count && !IsOption(arguments[index + 1]))
            {
                value = arguments[++index];
            }

            if (option.Value is not null && value.Length == 0)
            {
                throw new SettingException(name, "its value is missing", $"write {name} {option.Value}");
            }

            if (given.TryGetValue(name, out string? before) && option.IsList)
            {
                given[name] = before + "," + value;
            }
            else if (!given.TryAdd(name, value))
            {
                throw new SettingException(name, "it is given twice", "give it once");
            }
        }

        return new(words, given);
    }

    private static bool IsOption(string argument) => argument.StartsWith("--", StringComparison.Ordinal);

    private static SettingException Unknown(string command, string name, IReadOnlyList<CommandOption> options)
    {
        string? nearest = Nearest.Of(name, options.Select(option => option.Name));
        return new(
            name,
            $"'{command}' has no such option",
            nearest is null ? $"see 'diagnostics {command} --help'" : $"the nearest one is {nearest}");
    }
}
