namespace Diagnostics.SystemTests.Kernel;

[Collection("kernel")]
public class KernelRigTests
{
    [Fact]
    public void CommandsOutputExitCodeAndFilesComeBack()
    {
        KernelRun run = KernelRig.Run("echo to standard output", "echo to standard error >&2", "uname -r >version", "exit 3");
        Assert.Equal(3, run.ExitCode);
        Assert.Equal("to standard output\nto standard error\n", run.Output);
        Assert.StartsWith("6.", run.Files["version"], StringComparison.Ordinal);
    }

    [Fact]
    public void KernelThatDoesNotEndIsEnded()
    {
        // No boot is done in half a second.
        if (KernelRig.SkipReason is { } reason)
        {
            Assert.Skip(reason);
        }

        InvalidOperationException error = Assert.Throws<InvalidOperationException>(() => KernelRig.Run(TimeSpan.FromSeconds(0.5), "sleep 1000"));
        Assert.Contains("(ended after", error.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void PackagesAreListedForTheTestCommand()
    {
        for (DirectoryInfo? folder = new(AppContext.BaseDirectory); folder is not null; folder = folder.Parent)
        {
            string list = Path.Combine(folder.FullName, "scripts", "packages-for-tests");
            if (File.Exists(list))
            {
                Assert.Subset(File.ReadAllLines(list).ToHashSet(), KernelRig.Packages.ToHashSet());
                return;
            }
        }

        Assert.Fail("scripts/packages-for-tests was not found above the test assembly");
    }
}
