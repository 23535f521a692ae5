using System.Diagnostics;
using System.Globalization;
using System.Net;
using System.Text;
using System.Text.Json;
using System.Text.RegularExpressions;

namespace Diagnostics.SystemTests;

/// <summary>The built program on its simulated site, until it is disposed. Its hours are seconds; its own time is what counts, so that each run shows the same findings.</summary>
internal sealed class RunningDemo : IAsyncDisposable
{
    /// <summary>By then the demo's button, drop cable and supply have shown.</summary>
    public static readonly TimeSpan Shown = TimeSpan.FromMinutes(50);

    private const string Announcement = "report page: ";

    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("demo");
    private readonly List<(Process Process, Task<string> Error)> _running = [];

    private RunningDemo()
    {
    }

    /// <summary>Of the page on loopback.</summary>
    public Uri Near { get; private set; } = null!;

    /// <summary>Of the page as other devices reach it: 127.0.0.2, opened as if it were of the network.</summary>
    public Uri Distant { get; private set; } = null!;

    public string Passcode { get; private set; } = string.Empty;

    public string PathOf(string name) => Path.Combine(_directory.FullName, name);

    public static async Task<RunningDemo> StartAsync(CancellationToken cancellation)
    {
        RunningDemo demo = new();
        (string Name, string Value)[] environment = [("TZ", "UTC"), ("DIAGNOSTICS_PASSCODE_FILE", demo.PathOf("passcode"))];
        using (Process made = Command.Start(Command.Program, ["passcode", "set", "--print"], environment))
        {
            demo.Passcode = Regex.Match(await made.StandardOutput.ReadToEndAsync(cancellation), "^passcode: (\\S+)\n").Groups[1].Value;
            await made.WaitForExitAsync(cancellation);
        }

        Process process = demo.Run(["demo", "--port", "0", "--listen-on", "127.0.0.2", "--log", demo.PathOf("log")], environment);
        demo.Near = await AddressAsync(process, cancellation);
        demo.Distant = await AddressAsync(process, cancellation);
        return demo;
    }

    /// <summary>Waits until so much of the site's time was heard.</summary>
    public async Task HeardAsync(TimeSpan time, CancellationToken cancellation)
    {
        using HttpClient client = new();
        while (true)
        {
            using JsonDocument report = JsonDocument.Parse(await client.GetStringAsync(new Uri(Near, "/report.json"), cancellation));
            JsonElement source = report.RootElement.GetProperty("source");
            if (source.GetProperty("start").GetString() is { } start && source.GetProperty("end").GetString() is { } end
                && DateTimeOffset.Parse(end, CultureInfo.InvariantCulture) - DateTimeOffset.Parse(start, CultureInfo.InvariantCulture) > time)
            {
                return;
            }
        }
    }

    /// <summary>Sends a form as the page on loopback does.</summary>
    /// <returns>What came, after redirections.</returns>
    public async Task<byte[]> PostAsync(string path, string form, CancellationToken cancellation)
    {
        using HttpClient client = new();
        using HttpRequestMessage request = new(HttpMethod.Post, new Uri(Near, path)) { Content = new StringContent(form, Encoding.ASCII, "application/x-www-form-urlencoded") };
        request.Headers.Add("Origin", Near.GetLeftPart(UriPartial.Authority));
        using HttpResponseMessage answer = await client.SendAsync(request, cancellation);
        Assert.True(answer.StatusCode == HttpStatusCode.OK, $"{path}: {answer.StatusCode}");
        return await answer.Content.ReadAsByteArrayAsync(cancellation);
    }

    /// <summary>Makes a bundle of it and opens that.</summary>
    /// <returns>Address of the bundle's page.</returns>
    public async Task<Uri> OpenBundleAsync(CancellationToken cancellation)
    {
        await File.WriteAllBytesAsync(PathOf("bundle.zip"), await PostAsync("/bundle", "inputs=keep", cancellation), cancellation);
        return await OpenAsync(PathOf("bundle.zip"), cancellation);
    }

    /// <summary>Shows a bundle, or a log.</summary>
    /// <returns>Address of its page.</returns>
    public Task<Uri> OpenAsync(string path, CancellationToken cancellation) => AddressAsync(Run(["open", path], ("TZ", "UTC")), cancellation);

    /// <summary>Does on it what people do (a soak test, a mark, a walk test, a note on a finding, a bundle), and gives an address of every kind of page.</summary>
    /// <param name="name">Of the soak test.</param>
    /// <param name="note">Of the mark and of the finding.</param>
    /// <param name="cancellation">Gives it up.</param>
    public async Task<IReadOnlyList<Uri>> PagesAsync(string name, string note, CancellationToken cancellation)
    {
        await HeardAsync(TimeSpan.FromMinutes(1), cancellation);
        await PostAsync("/soak", "for=12h&name=" + Uri.EscapeDataString(name), cancellation);
        await PostAsync("/mark", "note=" + Uri.EscapeDataString(note), cancellation);
        await HeardAsync(Shown, cancellation);
        await PostAsync("/soak/stop", string.Empty, cancellation);
        await PostAsync("/walk/begin", string.Empty, cancellation);
        JsonElement soak = await DocumentAsync("/soak.json", cancellation);
        JsonElement report = await DocumentAsync("/report.json", cancellation);
        string bus = report.GetProperty("buses")[0].GetProperty("interface").GetString()!;
        JsonElement chatter = report.GetProperty("findings").EnumerateArray().First(finding => finding.GetProperty("finding").GetString() == "input.chatter");
        await PostAsync("/acknowledge", $"finding={Uri.EscapeDataString(chatter.GetProperty("key").GetString()!)}&note={Uri.EscapeDataString(note)}", cancellation);
        string node = $"/nodes/{bus}/{chatter.GetProperty("node")}";
        string[] own =
        [
            "/", "/time?span=hour", "/time?span=day", "/frames", node, $"{node}/inputs/{chatter.GetProperty("input")}", $"/nodes/{bus}/6/outputs/1", "/site", "/site/cable", "/site/nodes/5", "/site/import", "/walk",
            "/soak/" + soak.GetProperty("record").GetProperty("id").GetString(), "/record", "/nowhere",
        ];
        Uri bundle = await OpenBundleAsync(cancellation);
        return [.. own.Select(path => new Uri(Near, path)), new(Distant, "/sign-in"), bundle, new(bundle, "/time?span=day"), new(bundle, node), new(bundle, "/site"), new(bundle, "/record")];
    }

    public async ValueTask DisposeAsync()
    {
        foreach ((Process process, Task<string> error) in _running)
        {
            using Process stop = Process.Start("kill", ["-TERM", process.Id.ToString(CultureInfo.InvariantCulture)]);
            await process.WaitForExitAsync();
            await error;
            process.Dispose();
        }

        _directory.Delete(recursive: true);
    }

    private async Task<JsonElement> DocumentAsync(string path, CancellationToken cancellation)
    {
        using HttpClient client = new();
        using JsonDocument document = JsonDocument.Parse(await client.GetStringAsync(new Uri(Near, path), cancellation));
        return document.RootElement.Clone();
    }

    private Process Run(IEnumerable<string> arguments, params (string Name, string Value)[] environment)
    {
        Process process = Command.Start(Command.Program, arguments, environment);
        _running.Add((process, process.StandardError.ReadToEndAsync()));
        return process;
    }

    private static async Task<Uri> AddressAsync(Process process, CancellationToken cancellation)
    {
        while (await process.StandardOutput.ReadLineAsync(cancellation) is { } line)
        {
            if (line.StartsWith(Announcement, StringComparison.Ordinal))
            {
                return new(line[Announcement.Length..]);
            }
        }

        throw new InvalidOperationException("The program ended before it served its page.");
    }
}
