using System.Diagnostics;
using System.Net.Sockets;
using System.Text;
using System.Text.Json;

namespace Diagnostics.SystemTests;

public sealed class DemoTests
{
    [Fact]
    public async Task ADemoWhosePortIsTakenSaysSoAndEnds()
    {
        using TcpListener other = new(System.Net.IPAddress.Loopback, 0);
        other.Start();
        string port = ((System.Net.IPEndPoint)other.LocalEndpoint).Port.ToString(System.Globalization.CultureInfo.InvariantCulture);
        Command ran = await Command.RunAsync(Command.Program, "demo", "--port", port);
        Assert.Equal(2, ran.Status);
        Assert.Contains($"another program uses port {port}", ran.Error, StringComparison.Ordinal);
    }

    [Fact]
    public async Task TheDemoServesItsPageTellsSystemdAndEndsOnRequest()
    {
        CancellationToken cancellation = TestContext.Current.CancellationToken;
        DirectoryInfo directory = Directory.CreateTempSubdirectory("demo");
        string path = Path.Combine(directory.FullName, "notify");
        using Socket notify = new(AddressFamily.Unix, SocketType.Dgram, ProtocolType.Unspecified);
        notify.Bind(new UnixDomainSocketEndPoint(path));

        using Process demo = Command.Start(Command.Program, ["demo", "--port", "0"], ("NOTIFY_SOCKET", path), ("WATCHDOG_USEC", "3000000"));
        Task<string> error = demo.StandardError.ReadToEndAsync(cancellation);
        string? line = await demo.StandardOutput.ReadLineAsync(cancellation);
        if (line is null)
        {
            Assert.Fail(await error);
        }

        Assert.StartsWith("report page: http://127.0.0.1:", line, StringComparison.Ordinal);
        using HttpClient client = new();
        string document = await client.GetStringAsync(line["report page: ".Length..] + "report.json", cancellation);
        using JsonDocument report = JsonDocument.Parse(document);
        Assert.Equal("simulated", report.RootElement.GetProperty("source").GetProperty("kind").GetString());

        List<string> told = [];
        byte[] message = new byte[256];
        while (!told.Contains("READY=1") || told.Count(text => text == "WATCHDOG=1") < 2)
        {
            int length = await notify.ReceiveAsync(message, SocketFlags.None, cancellation);
            told.AddRange(Encoding.UTF8.GetString(message, 0, length).Split('\n'));
        }

        using Process stop = Process.Start("kill", ["-TERM", demo.Id.ToString(System.Globalization.CultureInfo.InvariantCulture)]);
        await demo.WaitForExitAsync(cancellation);
        Assert.Equal(0, demo.ExitCode);
        directory.Delete(recursive: true);
    }
}
