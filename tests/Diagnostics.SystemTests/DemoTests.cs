using System.Diagnostics;
using System.Net.Sockets;
using System.Text;
using System.Text.Json;
using Diagnostics.Tests;

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

    /// <summary>The power goes in the middle of a soak test: whoever opens the log next goes on with it, and the record says when nothing was listened.</summary>
    [Fact]
    public async Task ASoakTestGoesOnAfterTheServiceWasKilledAndItsCommandJudgesIt()
    {
        CancellationToken cancellation = TestContext.Current.CancellationToken;
        DirectoryInfo directory = Directory.CreateTempSubdirectory("soak");
        (Process first, string port) = await StartAsync(directory.FullName, cancellation);
        using Process lonely = Command.Start(Command.Program, ["soak", "--for", "12h", "--name", "weekend", "--fails", "bus.flood", "--error-ratio", "any", "--restarts", "any", "--port", port]);
        using HttpClient client = new();
        await Patience.UntilAsync(async () => await SoakAsync(client, port, cancellation) is { } soak && soak.GetProperty("listenedSeconds").GetDouble() >= 600);
        lonely.Kill();
        first.Kill();
        await first.WaitForExitAsync(cancellation);
        first.Dispose();

        (Process second, string other) = await StartAsync(directory.FullName, cancellation);
        JsonElement? going = null;
        await Patience.UntilAsync(async () => (going = await SoakAsync(client, other, cancellation)) is { } soak && soak.GetProperty("interruptions").GetArrayLength() > 0);
        Assert.Equal("weekend", going!.Value.GetProperty("name").GetString());
        Assert.True(going.Value.GetProperty("listenedSeconds").GetDouble() >= 300);

        // Another one must not end it silently.
        Command refused = await Command.RunAsync(Command.Program, "soak", "--for", "20min", "--name", "again", "--port", other);
        Assert.Equal(2, refused.Status);
        Assert.Contains("'weekend' goes on", refused.Error, StringComparison.Ordinal);
        Assert.Equal(0, (await Command.RunAsync(Command.Program, "soak", "--stop", "--port", other)).Status);
        await Patience.UntilAsync(async () => (await SoakAsync(client, other, cancellation))!.Value.GetProperty("end").ValueKind != JsonValueKind.Null);

        // Five simulated minutes in a second: twenty are over soon, and however busy the machine is, not one more is counted.
        string page = Path.Combine(directory.FullName, "record.html");
        Command passed = await Command.RunAsync(Command.Program, "soak", "--for", "20min", "--name", "again", "--fails", "bus.flood", "--error-ratio", "any", "--restarts", "any", "--html", page, "--port", other);
        Assert.Equal((0, string.Empty), (passed.Status, passed.Error));
        Assert.Contains("Passed: 20 min listened", passed.Output, StringComparison.Ordinal);
        Assert.Contains("Passed: 20 min listened", File.ReadAllText(page), StringComparison.Ordinal);

        // The demo's clock began anew, so nobody can tell for how long it was off.
        Assert.Contains("for how long nobody can tell", await client.GetStringAsync($"http://127.0.0.1:{other}/soak/{going.Value.GetProperty("id").GetString()}", cancellation), StringComparison.Ordinal);
        second.Kill();
        await second.WaitForExitAsync(cancellation);
        second.Dispose();
        directory.Delete(recursive: true);
    }

    private static async Task<(Process Demo, string Port)> StartAsync(string log, CancellationToken cancellation)
    {
        Process demo = Command.Start(Command.Program, ["demo", "--port", "0", "--log", log]);
        Task<string> error = demo.StandardError.ReadToEndAsync(cancellation);
        string? line = await demo.StandardOutput.ReadLineAsync(cancellation);
        return line is null ? throw new InvalidOperationException(await error) : (demo, new Uri(line["report page: ".Length..]).Port.ToString(System.Globalization.CultureInfo.InvariantCulture));
    }

    private static async Task<JsonElement?> SoakAsync(HttpClient client, string port, CancellationToken cancellation)
    {
        using HttpResponseMessage answer = await client.GetAsync($"http://127.0.0.1:{port}/soak.json", cancellation);
        return answer.IsSuccessStatusCode
            ? JsonDocument.Parse(await answer.Content.ReadAsStringAsync(cancellation)).RootElement.GetProperty("record")
            : null;
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
