using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using Diagnostics.Agent.Commands;

namespace Diagnostics.Agent.Access;

/// <summary>The user's own certificate with its chain and key. Read once at start; whoever renews it starts the service again.</summary>
internal sealed class TlsCertificate
{
    /// <summary>A chain has three or four certificates of some kilobytes.</summary>
    private const int MostBytes = 256 * 1024;

    private const UnixFileMode Strangers = UnixFileMode.OtherRead | UnixFileMode.OtherWrite | UnixFileMode.OtherExecute | UnixFileMode.GroupWrite;

    private TlsCertificate(X509Certificate2 leaf, X509Certificate2Collection chain)
    {
        Leaf = leaf;
        Chain = chain;
    }

    public X509Certificate2 Leaf { get; }

    /// <summary>What leads from the certificate to an issuer that browsers know.</summary>
    public X509Certificate2Collection Chain { get; }

    /// <exception cref="SettingException">They can't be used, or others can read the key.</exception>
    public static TlsCertificate Read(string file, string which, string keyFile, string whichKey)
    {
        string chainText = Text(file, which);
        string keyText = Text(keyFile, whichKey);
        if ((File.GetUnixFileMode(keyFile) & Strangers) is not 0 and var open)
        {
            throw new SettingException(whichKey, $"'{keyFile}' is open to others ({open})", "chmod 0640 it, with the group 'diagnostics'");
        }

        X509Certificate2 leaf;
        X509Certificate2Collection chain = [];
        try
        {
            chain.ImportFromPem(chainText);
            leaf = X509Certificate2.CreateFromPem(chainText, keyText);
        }
        catch (Exception problem) when (problem is CryptographicException or ArgumentException)
        {
            throw new SettingException(which, $"'{file}' and '{keyFile}' are no certificate and its key ({problem.Message.TrimEnd('.')})", "give PEM files; the key must belong to the first certificate and have no password");
        }

        chain.RemoveAt(0);
        return new(leaf, chain);
    }

    /// <summary>From when on browsers refuse it.</summary>
    public DateTimeOffset Ends => Leaf.NotAfter;

    /// <summary>The certificate was made for this name or address.</summary>
    public bool IsFor(string host)
    {
        try
        {
            return Leaf.MatchesHostname(host, allowWildcards: true, allowCommonName: false);
        }
        catch (Exception problem) when (problem is CryptographicException or ArgumentException)
        {
            return false;
        }
    }

    private static string Text(string file, string which)
    {
        try
        {
            byte[] bytes = BoundedFile.Read(file, MostBytes);
            return bytes.Length <= MostBytes ? System.Text.Encoding.Latin1.GetString(bytes) : throw new SettingException(which, $"'{file}' is longer than any certificate", "check that it is the right file");
        }
        catch (NotAFileException problem)
        {
            throw new SettingException(which, $"'{file}': {problem.Message}", "name an ordinary file");
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            throw new SettingException(which, $"'{file}' can't be read ({problem.Message.TrimEnd('.')})", "check the path, and that this user may read it");
        }
    }
}
