using System.Net;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using Diagnostics.Agent;
using Diagnostics.Agent.Access;

namespace Diagnostics.Tests.Access;

public sealed class AccessSettingsReaderTests : IDisposable
{
    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("settings");

    public void Dispose() => _directory.Delete(recursive: true);

    private static AccessSettings Read(params (string Name, string Text)[] given) => AccessSettingsReader.Read(name =>
        given.FirstOrDefault(pair => pair.Name == name) is { Name: not null } found ? (found.Text, $"{name} (from a test)") : null);

    [Fact]
    public void NothingGivenListensNowhereElse() => Assert.Empty(Read().ListenOn);

    [Fact]
    public void AddressesAreTakenOnceAndAllIsAll()
    {
        Assert.Equal([IPAddress.Parse("192.0.2.7"), IPAddress.Parse("2001:db8::1")], Read(("listenOn", "192.0.2.7, 2001:db8::1,192.0.2.7")).ListenOn);
        Assert.True(Read(("listenOn", "ALL")).ListensOnAll);
        Assert.Equal("plant-room", Read(("name", "Plant-Room.local")).Name);
    }

    [Theory]
    [InlineData("listenOn", "all, 192.0.2.7")]
    [InlineData("listenOn", "library.example")]
    [InlineData("listenOn", "1")]
    [InlineData("listenOn", "0.0.0.0")]
    [InlineData("listenOn", "::")]
    [InlineData("listenOn", "127.0.0.1")]
    [InlineData("listenOn", "::1")]
    [InlineData("listenOn", "224.0.0.251")]
    [InlineData("name", "plant room")]
    [InlineData("name", "-x")]
    [InlineData("name", "library.example")]
    [InlineData("passcodeFile", "passcode")]
    [InlineData("certificate", "/nowhere/at/all.pem")]
    [InlineData("certificateKey", "/nowhere/at/all.pem")]
    public void WhatCantBeUsedIsNamed(string name, string text) =>
        Assert.StartsWith(name + " (from a test): ", Assert.Throws<SettingException>(() => Read((name, text))).Message, StringComparison.Ordinal);

    [Fact]
    public void AKeyThatOthersCanReadOrOfAnotherCertificateIsRefused()
    {
        (string certificate, string key) = Certificates.Make(_directory.FullName, "board.example");
        Assert.True(Read(("certificate", certificate), ("certificateKey", key)).Certificate!.IsFor("board.example"));
        Assert.False(Read(("certificate", certificate), ("certificateKey", key)).Certificate!.IsFor("library.example"));
        File.SetUnixFileMode(key, (UnixFileMode)0b110_100_100);
        Assert.Contains("open to others", Refusal(certificate, key), StringComparison.Ordinal);
        using ECDsa other = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        File.Delete(key);
        File.WriteAllText(key, other.ExportPkcs8PrivateKeyPem());
        File.SetUnixFileMode(key, UnixFileMode.UserRead);
        Assert.Contains("no certificate and its key", Refusal(certificate, key), StringComparison.Ordinal);
        File.WriteAllText(certificate, "this is none");
        Assert.Contains("no certificate and its key", Refusal(certificate, key), StringComparison.Ordinal);
    }

    private static string Refusal(string certificate, string key) => Assert.Throws<SettingException>(() => Read(("certificate", certificate), ("certificateKey", key))).Message;
}
