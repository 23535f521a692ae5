using System.Text;

namespace Diagnostics.Agent.Commands;

/// <summary>A line from the terminal that doesn't appear on it.</summary>
internal static class HiddenLine
{
    public static string Ask(string question)
    {
        Console.Error.Write(question);
        StringBuilder line = new();
        while (Console.ReadKey(intercept: true) is { Key: not ConsoleKey.Enter } key)
        {
            if (key.Key == ConsoleKey.Backspace)
            {
                line.Length -= line.Length > 0 ? 1 : 0;
            }
            else if (!char.IsControl(key.KeyChar) && line.Length <= Limits.LongestPasscode)
            {
                line.Append(key.KeyChar);
            }
        }

        Console.Error.WriteLine();
        return line.ToString();
    }
}
