using Diagnostics.Agent;
using Diagnostics.Agent.Bundles;
using Diagnostics.Can;

namespace Diagnostics.Tests.Bundles;

/// <summary>A stick that is full, pulled, missing, or has a file of that name.</summary>
public sealed class BundleFileWriterTests : IDisposable
{
    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("stick");

    public void Dispose() => _directory.Delete(recursive: true);

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    private string Place(string name) => Path.Combine(_directory.FullName, name);

    private string[] Names() => [.. _directory.EnumerateFileSystemInfos().Select(entry => entry.Name).Order(StringComparer.Ordinal)];

    private static Func<Stream, CancellationToken, Task> Good { get; } = async (target, stop) => await target.WriteAsync(Whole(), stop);

    private static byte[] Whole()
    {
        ForgedBundle forged = new();
        forged.Manifest = manifest => manifest with { Site = "Wrenfield", Made = Instant.FromDateTime(new DateTimeOffset(2026, 11, 25, 15, 12, 0, TimeSpan.Zero)) };
        return forged.ToBytes();
    }

    private async Task RefusedAsync(string told, string place, Func<Stream, CancellationToken, Task> write)
    {
        string[] before = Names();
        SettingException refused = await Assert.ThrowsAsync<SettingException>(() => BundleFileWriter.WriteAsync(place, write, Cancellation));
        Assert.Contains(told, refused.Message, StringComparison.Ordinal);
        Assert.Equal(before, Names());
    }

    [Fact]
    public async Task InADirectoryItGetsANameOfItsOwnAndWritesOverNothing()
    {
        Assert.Equal(Place("wrenfield-20261125-151200.zip"), (await BundleFileWriter.WriteAsync(_directory.FullName, Good, Cancellation)).Path);
        Assert.Equal(Place("wrenfield-20261125-151200-2.zip"), (await BundleFileWriter.WriteAsync(_directory.FullName, Good, Cancellation)).Path);
        Assert.Equal(Place("named.zip"), (await BundleFileWriter.WriteAsync(Place("named.zip"), Good, Cancellation)).Path);
        await RefusedAsync("nothing is written over", Place("named.zip"), Good);
        Assert.Equal(["named.zip", "wrenfield-20261125-151200-2.zip", "wrenfield-20261125-151200.zip"], Names());
    }

    [Fact]
    public async Task AFileThatAppearsMeanwhileIsNotWrittenOver()
    {
        await Assert.ThrowsAsync<SettingException>(() => BundleFileWriter.WriteAsync(
            Place("x.zip"),
            async (target, stop) =>
            {
                await Good(target, stop);
                await File.WriteAllTextAsync(Place("x.zip"), "somebody else's", stop);
            },
            Cancellation));
        Assert.Equal(["x.zip"], Names());
        Assert.Equal("somebody else's", await File.ReadAllTextAsync(Place("x.zip"), Cancellation));
    }

    [Fact]
    public async Task WhileItIsWrittenItHasNoNameThatLooksLikeABundle()
    {
        await BundleFileWriter.WriteAsync(
            _directory.FullName,
            async (target, stop) =>
            {
                await Good(target, stop);
                Assert.Matches("^\\.bundle-.*\\.part$", Assert.Single(Names()));
            },
            Cancellation);
        Assert.Equal(["wrenfield-20261125-151200.zip"], Names());
    }

    [Fact]
    public async Task AFullStickIsToldInOneLineAndNothingIsLeftOnIt()
    {
        static async Task Full(Stream target, CancellationToken stop)
        {
            await target.WriteAsync(new byte[1000], stop);
            throw new IOException("No space left on device : '/media/stick'");
        }

        await RefusedAsync("No space left on device", _directory.FullName, Full);
        await RefusedAsync("No space left on device", Place("x.zip"), Full);
        await RefusedAsync("is denied", Place("x.zip"), (_, _) => throw new UnauthorizedAccessException("Access to the path is denied."));
    }

    [Fact]
    public async Task WhatIsNoWholeBundleGetsNoName()
    {
        await RefusedAsync("cut off", _directory.FullName, async (target, stop) => await target.WriteAsync(Whole().AsMemory(0, 300), stop));
        await RefusedAsync("broke off", _directory.FullName, (_, _) => throw new SettingException("bundle", "the service broke off in the middle", "x"));
    }

    [Fact]
    public async Task AnInterruptionLeavesNothing()
    {
        using CancellationTokenSource interrupted = new();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => BundleFileWriter.WriteAsync(
            _directory.FullName,
            async (target, stop) =>
            {
                await target.WriteAsync(new byte[1000], stop);
                await interrupted.CancelAsync();
                stop.ThrowIfCancellationRequested();
            },
            interrupted.Token));
        Assert.Empty(Names());
    }

    [Fact]
    public async Task APlaceThatIsNotThereIsTold()
    {
        await RefusedAsync("there is no directory", Place("none/x.zip"), Good);
        File.WriteAllText(Place("file"), "x");
        await RefusedAsync("there is no directory", Place("file/x.zip"), Good);
        await RefusedAsync("can be written in '/proc'", "/proc/x.zip", Good);
    }

    [Fact]
    public async Task AStickThatIsPulledIsTold()
    {
        DirectoryInfo stick = _directory.CreateSubdirectory("pulled");
        SettingException told = await Assert.ThrowsAsync<SettingException>(() => BundleFileWriter.WriteAsync(
            stick.FullName,
            async (target, stop) =>
            {
                await Good(target, stop);
                stick.Delete(recursive: true);
            },
            Cancellation));
        Assert.StartsWith("'" + stick.FullName, told.Message.Replace("--to: nothing can be written in ", string.Empty, StringComparison.Ordinal), StringComparison.Ordinal);
    }
}
