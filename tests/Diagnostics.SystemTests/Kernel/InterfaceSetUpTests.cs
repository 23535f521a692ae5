namespace Diagnostics.SystemTests.Kernel;

/// <summary>The script of diagnostics-interface@.service in a real kernel.</summary>
[Collection("kernel")]
public class InterfaceSetUpTests
{
    [Fact]
    public void AnInterfaceIsSetUpForListeningAndOneThatCannotStaysDown()
    {
        KernelRun run = KernelRig.Run($"{KernelRig.Program("Diagnostics.KernelGuest")} interface '{Repository.PathOf("systemd/set-up-interface")}'");
        Assert.True(run.ExitCode == 0, run.Output);
        Assert.EndsWith("exit 0\n", run.Files["set-up"], StringComparison.Ordinal);

        // This driver reports no single errors; the script says so and goes on.
        Assert.Contains("going on without", run.Files["set-up"], StringComparison.Ordinal);
        string link = run.Files["link"];
        Assert.Contains("LISTEN-ONLY", link, StringComparison.Ordinal);
        Assert.Contains("bitrate 125000", link, StringComparison.Ordinal);
        Assert.Contains(",UP", link, StringComparison.Ordinal);

        // S4 = 125 kbit/s, L = listen-only (the serial-line CAN protocol, drivers/net/can/slcan); O would take part in the bus.
        string[] commands = run.Files["adapter-commands"].Split('\n');
        Assert.Contains("S4", commands);
        Assert.Contains("L", commands);
        Assert.DoesNotContain("O", commands);

        Assert.EndsWith("exit 2\n", run.Files["refused"], StringComparison.Ordinal);
        Assert.Contains("the interface stays down", run.Files["refused"], StringComparison.Ordinal);
        Assert.DoesNotContain(",UP", run.Files["refused-link"], StringComparison.Ordinal);
    }
}
