namespace Diagnostics.Agent.Access;

/// <summary>Whether there is a passcode. The same object as long as it is the same passcode.</summary>
internal sealed class PasscodeState
{
    public static readonly PasscodeState None = new(null, PasscodeTrouble.Missing);

    private PasscodeState(PasscodeHash? hash, PasscodeTrouble? trouble)
    {
        Hash = hash;
        Trouble = trouble;
    }

    public PasscodeHash? Hash { get; }

    /// <summary>Why there is none; null where there is one.</summary>
    public PasscodeTrouble? Trouble { get; }

    public static PasscodeState Of(PasscodeHash hash) => new(hash, null);

    public static PasscodeState Bad(PasscodeTrouble trouble) => new(null, trouble);
}

/// <summary>Why nobody can sign in.</summary>
internal enum PasscodeTrouble
{
    Missing,
    Damaged,
    Unreadable,
    OpenToOthers,
}
