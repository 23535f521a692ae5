using System.Net;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;

namespace Diagnostics.Tests.Access;

/// <summary>Certificates that a test makes for itself.</summary>
internal static class Certificates
{
    public static (string Certificate, string Key) Make(string directory, string name)
    {
        using ECDsa key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        CertificateRequest request = new("CN=Wrenfield community library", key, HashAlgorithmName.SHA256);
        SubjectAlternativeNameBuilder names = new();
        names.AddDnsName(name);
        names.AddIpAddress(IPAddress.Parse("127.0.0.2"));
        request.CertificateExtensions.Add(names.Build());
        using X509Certificate2 made = request.CreateSelfSigned(DateTimeOffset.UtcNow.AddDays(-1), DateTimeOffset.UtcNow.AddDays(30));
        string certificate = Path.Combine(directory, "board.pem");
        string own = Path.Combine(directory, "board.key");
        File.WriteAllText(certificate, made.ExportCertificatePem());
        File.WriteAllText(own, key.ExportPkcs8PrivateKeyPem());
        File.SetUnixFileMode(own, UnixFileMode.UserRead | UnixFileMode.UserWrite);
        return (certificate, own);
    }
}
