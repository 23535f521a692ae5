using Diagnostics.Core.Wording;
using System.Text;
using Diagnostics.Agent.Boards;

namespace Diagnostics.Agent.Commands;

/// <summary>What a command may touch of the world, so that tests can hold all of it in their hands.</summary>
internal sealed class CommandContext
{
    private static readonly UTF8Encoding Plain = new(encoderShouldEmitUTF8Identifier: false);

    public required Stream Input { get; init; }

    public required Stream Output { get; init; }

    public required Stream Error { get; init; }

    /// <summary>Variables by their names.</summary>
    public IReadOnlyDictionary<string, string> Environment { get; init; } = new Dictionary<string, string>();

    public required BusSources Sources { get; init; }

    /// <summary>Asks a person for a line that isn't shown; null where there is no terminal.</summary>
    public Func<string, string>? AskHidden { get; init; }

    /// <summary>What is fitted to the board; null = of this machine.</summary>
    public BoardPorts? Ports { get; init; }

    /// <summary>Where the system's files begin, from which mounted sticks and the state of the board are read: <c>/</c>, or fixtures of a test.</summary>
    public string Root { get; init; } = "/";

    public TimeProvider Clock { get; init; } = TimeProvider.System;

    /// <summary>What was odd in the as-built record or a data sheet but didn't stop it from being used.</summary>
    public void PrintRemarks(AgentSettings settings)
    {
        foreach (Sentence remark in settings.FileRemarks)
        {
            PrintError("note: " + SettingException.OneLine(remark.English));
        }
    }

    public void Print(string text) => Write(Output, text);

    /// <summary>Where even that can't be written nobody is left to tell, and the exit code says it alone.</summary>
    public void PrintError(string text)
    {
        try
        {
            Write(Error, text);
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException)
        {
        }
    }

    private static void Write(Stream stream, string text)
    {
        stream.Write(Plain.GetBytes(text + "\n"));
        stream.Flush();
    }
}
