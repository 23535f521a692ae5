using Diagnostics.KernelGuest;

namespace Diagnostics.SystemTests.Kernel;

/// <summary>One boot of the guest kernel, in which all steps of the bus reader's tests happen; the tests then judge what it left.</summary>
public sealed class BusReaderRun
{
    private readonly Lazy<IReadOnlyList<Observation>> _observations = new(Listen);

    /// <summary>Skips the test where there is no guest kernel.</summary>
    public IReadOnlyList<Observation> Of(string step)
    {
        if (KernelRig.SkipReason is { } reason)
        {
            Assert.Skip(reason);
        }

        return [.. _observations.Value.Where(observation => observation.Step == step)];
    }

    private static IReadOnlyList<Observation> Listen()
    {
        KernelRun run = KernelRig.Run(KernelRig.Program("Diagnostics.KernelGuest") + " bus heard");
        Assert.True(run.ExitCode == 0, run.Output);
        return [.. run.Files["heard"].Split('\n', StringSplitOptions.RemoveEmptyEntries).Select(Observation.FromLine)];
    }
}
