using System.Security.Cryptography;

namespace Diagnostics.Agent.Access;

/// <summary>What may be a passcode, and one made by chance.</summary>
internal static class Passcode
{
    /// <summary>Letters and digits that nobody takes for each other, on paper or by telephone.</summary>
    private const string Alphabet = "abcdefghjkmnpqrstuvwxyz23456789";

    private const int Groups = 4;
    private const int GroupLength = 4;

    /// <summary>Sixteen of 31 signs by chance: 79 bits.</summary>
    public static string Random() =>
        string.Join('-', Enumerable.Range(0, Groups).Select(_ => RandomNumberGenerator.GetString(Alphabet, GroupLength)));

    /// <summary>Why it is none, and what to do; null where it is one.</summary>
    /// <param name="text">What somebody would like.</param>
    /// <param name="boardName">What is printed on the door must not open it.</param>
    public static (string Why, string Remedy)? Objection(string text, string boardName)
    {
        if (text.Length < Limits.ShortestPasscode)
        {
            return ($"it has fewer than {Limits.ShortestPasscode} characters, and short ones are guessed", "take four words, or let 'passcode set --print' make one");
        }

        if (text.Length > Limits.LongestPasscode)
        {
            return ($"it has more than {Limits.LongestPasscode} characters", "take four words");
        }

        if (text.Any(char.IsControl) || text[0] == ' ' || text[^1] == ' ')
        {
            return ("it has a sign that can't be typed, or a space at an end", "take four words");
        }

        string low = text.ToLowerInvariant();
        string bare = string.Concat(low.Where(char.IsLetterOrDigit));
        bool isNamed = new[] { boardName, "diagnostics", "passcode", "password" }.Any(name => name.Length > 3 && bare.Replace(name, string.Empty, StringComparison.Ordinal).Length < Limits.ShortestPasscode / 2 && bare.Contains(name, StringComparison.Ordinal));
        bool isRow = Enumerable.Range(1, low.Length - 1).Count(place => Math.Abs(low[place] - low[place - 1]) <= 1) > low.Length * 2 / 3;
        return isNamed || isRow || low.Distinct().Count() < 5 ? ("it is among the first that are guessed", "take four words, or let 'passcode set --print' make one") : null;
    }
}
