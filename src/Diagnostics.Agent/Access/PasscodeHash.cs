using System.Security.Cryptography;
using System.Text;
using Konscious.Security.Cryptography;

namespace Diagnostics.Agent.Access;

/// <summary>
/// A passcode as it is kept: Argon2id (RFC 9106) with what it was made with, so that later versions may ask for more. The second recommended option there, for
/// machines with little memory, is 64 MiB, three passes and four lanes. A board has 512 MB, of which the service may take 384, and the analysis runs on the same
/// cores: so half the memory and one lane, which keeps one core busy and not all of them.
/// </summary>
/// <param name="MemoryKibibytes">Memory that each guess takes.</param>
/// <param name="Passes">How often it is gone over.</param>
/// <param name="Salt">Makes equal passcodes differ.</param>
/// <param name="Hash">The result.</param>
internal sealed record PasscodeHash(int MemoryKibibytes, int Passes, byte[] Salt, byte[] Hash)
{
    public const int UsualMemoryKibibytes = 32 * 1024;
    public const int UsualPasses = 3;

    /// <summary>What a file may ask of this board.</summary>
    public const int MostMemoryKibibytes = 64 * 1024;

    /// <summary>See <see cref="MostMemoryKibibytes"/>.</summary>
    public const int MostPasses = 16;

    /// <summary>128 and 256 bit: RFC 9106, 3.1 and 4.</summary>
    public const int SaltBytes = 16;

    /// <summary>See <see cref="SaltBytes"/>.</summary>
    public const int HashBytes = 32;

    private const int Lanes = 1;

    public static async Task<PasscodeHash> OfAsync(string passcode, int memoryKibibytes = UsualMemoryKibibytes, int passes = UsualPasses)
    {
        byte[] salt = RandomNumberGenerator.GetBytes(SaltBytes);
        return new(memoryKibibytes, passes, salt, await HashAsync(passcode, salt, memoryKibibytes, passes).ConfigureAwait(false));
    }

    public async Task<bool> IsOfAsync(string passcode) =>
        CryptographicOperations.FixedTimeEquals(await HashAsync(passcode, Salt, MemoryKibibytes, Passes).ConfigureAwait(false), Hash);

    private static async Task<byte[]> HashAsync(string passcode, byte[] salt, int memoryKibibytes, int passes)
    {
        using Argon2id argon = new(Encoding.UTF8.GetBytes(passcode)) { Salt = salt, MemorySize = memoryKibibytes, Iterations = passes, DegreeOfParallelism = Lanes };
        return await argon.GetBytesAsync(HashBytes).ConfigureAwait(false);
    }
}
