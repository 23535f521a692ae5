namespace Diagnostics.Agent.Commands;

/// <summary>Finds what a mistyped word was probably meant to be.</summary>
internal static class Nearest
{
    /// <summary>Shorter beginnings could mean anything.</summary>
    private const int LeastOfAWord = 3;

    /// <summary>The known word with the fewest changed, added, lost or swapped letters, or the one that was cut short; null where none is near.</summary>
    public static string? Of(string typed, IEnumerable<string> known)
    {
        string? best = null;
        int fewest = Math.Max(2, typed.Length / 3) + 1;
        foreach (string word in known)
        {
            bool isCutShort = typed.Length >= LeastOfAWord && word.StartsWith(typed, StringComparison.OrdinalIgnoreCase);
            int changes = isCutShort ? 1 : Changes(typed.ToLowerInvariant(), word.ToLowerInvariant());
            if (changes < fewest && changes < word.Length)
            {
                (best, fewest) = (word, changes);
            }
        }

        return best;
    }

    /// <summary>Optimal string alignment distance.</summary>
    private static int Changes(string from, string to)
    {
        if (Math.Abs(from.Length - to.Length) > 8 || from.Length > 64)
        {
            return int.MaxValue;
        }

        int[,] cost = new int[from.Length + 1, to.Length + 1];
        for (int row = 0; row <= from.Length; row++)
        {
            for (int column = 0; column <= to.Length; column++)
            {
                if (row == 0 || column == 0)
                {
                    cost[row, column] = row + column;
                    continue;
                }

                int same = from[row - 1] == to[column - 1] ? 0 : 1;
                cost[row, column] = Math.Min(Math.Min(cost[row - 1, column] + 1, cost[row, column - 1] + 1), cost[row - 1, column - 1] + same);
                if (row > 1 && column > 1 && from[row - 1] == to[column - 2] && from[row - 2] == to[column - 1])
                {
                    cost[row, column] = Math.Min(cost[row, column], cost[row - 2, column - 2] + 1);
                }
            }
        }

        return cost[from.Length, to.Length];
    }
}
