namespace Diagnostics.Agent.Commands;

internal interface ICommand
{
    string Name { get; }

    /// <summary>The words it takes, as the help shows them.</summary>
    string Words { get; }

    /// <summary>One sentence.</summary>
    string Summary { get; }

    IReadOnlyList<CommandOption> Options { get; }

    /// <summary>Runs it and gives the exit code: 0 done, 1 what was to be judged was judged bad.</summary>
    /// <exception cref="SettingException">An argument, a file or a setting is wrong: exit code 2.</exception>
    Task<int> RunAsync(ParsedArguments arguments, CommandContext context, CancellationToken cancellation);
}
