namespace Diagnostics.Core.AsBuilt;

/// <summary>The words of the as-built record: what its members may say.</summary>
public static class AsBuiltWords
{
    public static readonly IReadOnlyList<string> InputKinds = ["push-button", "switch", "contact", "motion"];
    public static readonly IReadOnlyList<string> OutputKinds = ["relay", "dimmer"];
    public static readonly IReadOnlyList<string> Presses = ["short", "long"];

    /// <summary>Null for a kind that nobody told.</summary>
    public static string? Of(InputKind kind) => kind == InputKind.Unknown ? null : InputKinds[(int)kind - 1];

    /// <summary>A word that isn't known is the unknown kind.</summary>
    public static InputKind InputKindOf(string? word)
    {
        for (int index = 0; index < InputKinds.Count; index++)
        {
            if (InputKinds[index] == word)
            {
                return (InputKind)(index + 1);
            }
        }

        return InputKind.Unknown;
    }
}
