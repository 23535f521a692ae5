using Diagnostics.Agent.Access;

namespace Diagnostics.Tests.Access;

public sealed class PasscodeFileTests : IDisposable
{
    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("passcode");

    public void Dispose() => _directory.Delete(recursive: true);

    private string Path => System.IO.Path.Combine(_directory.FullName, "passcode");

    private static Task<PasscodeHash> CheapAsync(string passcode) => PasscodeHash.OfAsync(passcode, memoryKibibytes: 64, passes: 1);

    [Fact]
    public async Task WhatIsWrittenLetsInAndIsReadByNobodyElse()
    {
        PasscodeFile file = new(Path);
        Assert.Equal(PasscodeTrouble.Missing, file.Read().Trouble);
        file.Write(await CheapAsync("bench lights at noon"));
        PasscodeState state = file.Read();
        Assert.True(await state.Hash!.IsOfAsync("bench lights at noon"));
        Assert.False(await state.Hash.IsOfAsync("bench lights at noo"));
        Assert.Same(state, file.Read());
        Assert.Equal(UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.GroupRead, File.GetUnixFileMode(Path));
        Assert.DoesNotContain("bench", await File.ReadAllTextAsync(Path, TestContext.Current.CancellationToken), StringComparison.Ordinal);
        Assert.Single(_directory.GetFiles());

        file.Write(await CheapAsync("bench lights at noon"));
        Assert.NotSame(state, file.Read());
        Assert.True(file.Remove());
        Assert.False(file.Remove());
        Assert.False(new PasscodeFile(System.IO.Path.Combine(_directory.FullName, "nowhere", "passcode")).Remove());
        Assert.Equal(PasscodeTrouble.Missing, file.Read().Trouble);
    }

    [Fact]
    public async Task AnyDamageLetsNobodyIn()
    {
        PasscodeFile file = new(Path);
        file.Write(await CheapAsync("bench lights at noon"));
        string whole = await File.ReadAllTextAsync(Path, TestContext.Current.CancellationToken);
        string[] damaged =
        [
            "", "{}", "null", "[]", "\"\"", new string('x', 9000), whole.Replace("\"format\": 1", "\"format\": 2", StringComparison.Ordinal), whole.Replace("argon2id", "none", StringComparison.Ordinal),
            whole.Replace("\"passes\": 1", "\"passes\": 0", StringComparison.Ordinal), whole.Replace("\"passes\": 1", "\"passes\": 1000000", StringComparison.Ordinal),
            whole.Replace("\"memoryKibibytes\": 64", "\"memoryKibibytes\": 2000000000", StringComparison.Ordinal), System.Text.RegularExpressions.Regex.Replace(whole, "\"hash\": \"[^\"]*\"", "\"hash\": \"\""),
        ];
        foreach (string text in damaged.Concat(Enumerable.Range(0, whole.TrimEnd().Length).Select(length => whole[..length])))
        {
            await File.WriteAllTextAsync(Path, text, TestContext.Current.CancellationToken);
            Assert.Equal(PasscodeTrouble.Damaged, new PasscodeFile(Path).Read().Trouble);
        }
    }

    [Fact]
    public async Task AFileThatOthersCanReadOrThatIsNoneLetsNobodyIn()
    {
        PasscodeFile file = new(Path);
        file.Write(await CheapAsync("bench lights at noon"));
        File.SetUnixFileMode(Path, (UnixFileMode)0b110_100_100);
        Assert.Equal(PasscodeTrouble.OpenToOthers, new PasscodeFile(Path).Read().Trouble);
        file.Remove();
        Directory.CreateDirectory(Path);
        Assert.NotNull(new PasscodeFile(Path).Read().Trouble);
    }

    [Theory]
    [InlineData("short")]
    [InlineData("elevenchars")]
    [InlineData("aaaaaaaaaaaaaaaa")]
    [InlineData("123456789012345")]
    [InlineData("abcdefghijklmnop")]
    [InlineData("plant-room-2026")]
    [InlineData("Diagnostics 12")]
    [InlineData("bell\a in the text")]
    [InlineData(" begins with space")]
    public void WhatIsGuessedFirstIsNoPasscode(string text) => Assert.NotNull(Passcode.Objection(text, "plantroom"));

    [Fact]
    public void APasscodeByChanceIsOne()
    {
        string[] made = [.. Enumerable.Range(0, 200).Select(_ => Passcode.Random())];
        Assert.Equal(200, made.Distinct(StringComparer.Ordinal).Count());
        Assert.All(made, text => Assert.Matches("^([a-hj-km-np-z2-9]{4}-){3}[a-hj-km-np-z2-9]{4}$", text));
        Assert.All(made, text => Assert.Null(Passcode.Objection(text, "plantroom")));
        Assert.Null(Passcode.Objection("four words are enough", "plantroom"));
    }
}
