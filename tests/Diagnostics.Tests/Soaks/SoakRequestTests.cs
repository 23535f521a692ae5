using Diagnostics.Agent;
using Diagnostics.Agent.Soaks;

namespace Diagnostics.Tests.Soaks;

public sealed class SoakRequestTests
{
    [Theory]
    [InlineData("62h", 62 * 3600)]
    [InlineData("90min", 5400)]
    [InlineData("90 min", 5400)]
    [InlineData("1.5h", 5400)]
    [InlineData("3d", 259_200)]
    [InlineData("600s", 600)]
    [InlineData("5m", 300)]
    [InlineData("2H", 7200)]
    public void TimesAreReadWithTheirUnit(string text, int seconds) => Assert.Equal(seconds, SoakRequest.Read(null, text, null, null, null).Asked.TotalSeconds);

    [Theory]
    [InlineData("")]
    [InlineData("62")]
    [InlineData("h")]
    [InlineData("-1h")]
    [InlineData("30s")]
    [InlineData("367d")]
    [InlineData("1e999h")]
    [InlineData("NaNh")]
    [InlineData("1,5h")]
    public void WhatIsNoTimeIsRefused(string text) => Assert.StartsWith("how long to listen (--for)", Assert.Throws<SettingException>(() => SoakRequest.Read(null, text, null, null, null)).Message, StringComparison.Ordinal);

    [Fact]
    public void RulesAreReadAndWrongWordsAreNamed()
    {
        SoakRequest wish = SoakRequest.Read(" shaft 2 ", "1h", "fault, node.restarted,fault", "1e-8", "any");
        Assert.Equal("shaft 2", wish.Name);
        Assert.Equal(["fault", "node.restarted"], wish.Rules.Fails);
        Assert.Equal(1e-8, wish.Rules.MostErrorRatio);
        Assert.Null(wish.Rules.MostRestarts);
        Assert.Equal(SoakRequest.UsualName, SoakRequest.Read("  ", "1h", null, null, null).Name);
        Assert.Contains("node.silent", Assert.Throws<SettingException>(() => SoakRequest.Read(null, "1h", "node.silnt", null, null)).Message, StringComparison.Ordinal);
        Assert.Contains("--error-ratio", Assert.Throws<SettingException>(() => SoakRequest.Read(null, "1h", null, "2", null)).Message, StringComparison.Ordinal);
        Assert.Contains("--restarts", Assert.Throws<SettingException>(() => SoakRequest.Read(null, "1h", null, null, "few")).Message, StringComparison.Ordinal);
        SettingException negative = Assert.Throws<SettingException>(() => SoakRequest.Read(null, "1h", null, null, "-5"));
        Assert.Contains("-5 is negative, which it must not be; write how many restarts are allowed, 0 or more", negative.Message, StringComparison.Ordinal);
        Assert.StartsWith("Restarts that are allowed must not be negative, as -5 is.", negative.Said.English, StringComparison.Ordinal);
    }

    [Fact]
    public void ANameIsCutAndCleaned() => Assert.Equal(Limits.SoakName, SoakRequest.Read(new string('x', 500), "1h", null, null, null).Name.Length);
}
