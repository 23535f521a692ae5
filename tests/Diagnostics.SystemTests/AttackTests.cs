using System.Diagnostics;
using System.Net;
using System.Net.Sockets;
using System.Text;
using System.Text.Json;
using System.Text.RegularExpressions;
using Diagnostics.Agent;
using Diagnostics.KernelGuest;

namespace Diagnostics.SystemTests;

/// <summary>The built program under attack from the network (the address 127.0.0.2, opened as one of it) while it listens to its simulated site.</summary>
public sealed class AttackTests : IDisposable
{
    private const int Attackers = 200;

    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("attack");

    public void Dispose() => _directory.Delete(recursive: true);

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    private string File => Path.Combine(_directory.FullName, "passcode");

    [Fact]
    public async Task ThePasscodeIsMadePrintedOnceAndRemovedByItsCommand()
    {
        string first = await PasscodeAsync();
        string text = await System.IO.File.ReadAllTextAsync(File, Cancellation);
        Assert.Contains("argon2id", text, StringComparison.Ordinal);
        Assert.DoesNotContain(first, text, StringComparison.Ordinal);
        Assert.NotEqual(first, await PasscodeAsync());

        // Its standard input is empty here: no passcode is refused in one line, and the old one stays.
        using Process empty = Command.Start(Command.Program, ["passcode", "set"], ("DIAGNOSTICS_PASSCODE_FILE", File));
        Assert.Matches("^diagnostics: passcode: [^\n]+\n$", await empty.StandardError.ReadToEndAsync(Cancellation));
        await empty.WaitForExitAsync(Cancellation);
        Assert.Equal(2, empty.ExitCode);
        Assert.True(System.IO.File.Exists(File));
        using Process remove = Command.Start(Command.Program, ["passcode", "remove"], ("DIAGNOSTICS_PASSCODE_FILE", File));
        await remove.WaitForExitAsync(Cancellation);
        Assert.Equal(0, remove.ExitCode);
        Assert.False(System.IO.File.Exists(File));
    }

    [Fact]
    public async Task NoFrameIsLostAndTheTechnicianIsServedWhileTheNetworkAttacks()
    {
        string passcode = await PasscodeAsync();
        using OpenDemo demo = await OpenDemo.StartAsync(File);
        (_, Uri distant, HttpClient board, HttpClient technician) = demo;
        using (HttpResponseMessage signedIn = await PostAsync(technician, "/sign-in", "passcode=" + passcode))
        {
            Assert.Equal(HttpStatusCode.SeeOther, signedIn.StatusCode);
            Assert.True(signedIn.Headers.Contains("Set-Cookie"));
        }

        long before = Frames(await ReportAsync(board));
        using CancellationTokenSource over = CancellationTokenSource.CreateLinkedTokenSource(Cancellation);
        Task[] attacks = [.. Enumerable.Range(0, Attackers).Select(number => AttackAsync(number, distant, over.Token))];

        // Both are served all the while, for twenty simulated minutes at five in a second.
        JsonElement report;
        int served = 0;
        do
        {
            report = await ReportAsync(board);
            using HttpResponseMessage page = await technician.GetAsync(new Uri("/", UriKind.Relative), Cancellation);
            Assert.Equal(HttpStatusCode.OK, page.StatusCode);
            served++;
        }
        while (Frames(report) < before + 50_000 || served < 20);

        await over.CancelAsync();
        await Task.WhenAll(attacks);
        report = await ReportAsync(board);
        AssertNothingLost(report);

        // The forged marks and tests of all these came to nothing.
        Assert.DoesNotContain("forged", await board.GetStringAsync(new Uri("/", UriKind.Relative), Cancellation), StringComparison.Ordinal);
        await demo.EndAsync();
    }

    /// <summary>Two hundred at once, of fifty devices, all signed in: who has a place is kept current, the others are told when to come again, and no frame is lost.</summary>
    [Fact]
    public async Task NoFrameIsLostWhileTwoHundredWantTheLiveStream()
    {
        string passcode = await PasscodeAsync();
        using OpenDemo demo = await OpenDemo.StartAsync(File);
        (Uri near, Uri distant, HttpClient board, HttpClient technician) = demo;
        string cookie;
        using (HttpResponseMessage signedIn = await PostAsync(technician, "/sign-in", "passcode=" + passcode))
        {
            cookie = signedIn.Headers.GetValues("Set-Cookie").Single().Split(';')[0];
        }

        long before = Frames(await ReportAsync(board));
        using CancellationTokenSource over = CancellationTokenSource.CreateLinkedTokenSource(Cancellation);
        StreamCounts counts = new();
        string live = LiveStream.PathOf(await board.GetStringAsync(near, Cancellation));
        Task[] readers = [.. Enumerable.Range(0, Attackers).Select(number => WatchAsync(number, distant, live, cookie, counts, over.Token))];
        JsonElement report;
        int served = 0;
        do
        {
            report = await ReportAsync(board);
            try
            {
                using HttpResponseMessage page = await technician.GetAsync(new Uri("/", UriKind.Relative), Cancellation);
                Assert.Equal(HttpStatusCode.OK, page.StatusCode);
                served++;
            }
            catch (Exception cut) when (cut is HttpRequestException or SocketException)
            {
                // All of them have signed in, so the technician is one of two hundred, whose place may be needed: a browser asks again.
            }
        }
        while (Frames(report) < before + 50_000 || served < 5 || counts.Signs < 50);

        await over.CancelAsync();
        await Task.WhenAll(readers);
        Assert.True(counts.Refused > 0);
        AssertNothingLost(await ReportAsync(board));
        await demo.EndAsync();
    }

    /// <summary>A demo that the network reaches, with who sits at the board and who comes from elsewhere.</summary>
    private sealed class OpenDemo : IDisposable
    {
        private readonly Process _process;
        private readonly Task<string> _error;
        private readonly HttpClient _board;
        private readonly HttpClient _technician;

        private OpenDemo(Process process, Task<string> error, Uri near, Uri distant)
        {
            (_process, _error) = (process, error);
            _board = new() { BaseAddress = near };
            _technician = new(new SocketsHttpHandler { AllowAutoRedirect = false }) { BaseAddress = distant };
        }

        public static async Task<OpenDemo> StartAsync(string passcodeFile)
        {
            Process process = Command.Start(Command.Program, ["demo", "--port", "0", "--listen-on", "127.0.0.2"], ("DIAGNOSTICS_PASSCODE_FILE", passcodeFile));
            Task<string> error = process.StandardError.ReadToEndAsync(Cancellation);
            Uri near = await AddressAsync(process);
            return new(process, error, near, await AddressAsync(process));
        }

        public void Deconstruct(out Uri near, out Uri distant, out HttpClient board, out HttpClient technician) =>
            (near, distant, board, technician) = (_board.BaseAddress!, _technician.BaseAddress!, _board, _technician);

        /// <summary>It must end by itself, and without a word of what nobody caught.</summary>
        public async Task EndAsync()
        {
            using Process stop = Process.Start("kill", ["-TERM", _process.Id.ToString(System.Globalization.CultureInfo.InvariantCulture)]);
            await _process.WaitForExitAsync(Cancellation);
            Assert.Equal(0, _process.ExitCode);
            Assert.DoesNotContain("Unhandled", await _error, StringComparison.Ordinal);
        }

        public void Dispose()
        {
            _technician.Dispose();
            _board.Dispose();
            _process.Dispose();
        }
    }

    private static void AssertNothingLost(JsonElement report)
    {
        JsonElement notSeen = report.GetProperty("source").GetProperty("notSeen");
        Assert.Equal((0, 0, 0), (notSeen.GetProperty("kernelDropped").GetInt64(), notSeen.GetProperty("queueDropped").GetInt64(), notSeen.GetProperty("damagedRecords").GetInt64()));
        Assert.Equal(0, notSeen.GetProperty("gaps").GetArrayLength());
    }

    /// <summary>What the readers of streams saw together.</summary>
    private sealed class StreamCounts
    {
        private int _refused;
        private int _signs;

        public int Refused => Volatile.Read(ref _refused);

        public int Signs => Volatile.Read(ref _signs);

        public void Refuse() => Interlocked.Increment(ref _refused);

        public void Sign() => Interlocked.Increment(ref _signs);
    }

    /// <summary>One who wants the stream, and asks again where there is no place.</summary>
    private static async Task WatchAsync(int number, Uri target, string live, string cookie, StreamCounts counts, CancellationToken over)
    {
        byte[] request = Encoding.ASCII.GetBytes($"GET {live} HTTP/1.1\r\nHost: {target.Authority}\r\nCookie: {cookie}\r\n\r\n");
        byte[] answer = new byte[16 * 1024];
        while (!over.IsCancellationRequested)
        {
            bool isOpen = false;
            try
            {
                using TcpClient client = new(new IPEndPoint(new IPAddress([127, 0, 1, (byte)(1 + (number % 50))]), 0));
                await client.ConnectAsync(IPAddress.Parse(target.Host), target.Port, over);
                NetworkStream stream = client.GetStream();
                await stream.WriteAsync(request, over);
                for (int length; (length = await stream.ReadAsync(answer, over)) > 0;)
                {
                    string text = Encoding.UTF8.GetString(answer, 0, length);
                    if (!isOpen && text.StartsWith("HTTP/1.1 200 ", StringComparison.Ordinal))
                    {
                        isOpen = true;
                    }
                    else if (!isOpen)
                    {
                        Assert.StartsWith("HTTP/1.1 503 ", text, StringComparison.Ordinal);
                        Assert.Contains("Retry-After:", text, StringComparison.Ordinal);
                        counts.Refuse();
                        break;
                    }

                    if (text.Contains("event: ", StringComparison.Ordinal) || text.Contains("data: ", StringComparison.Ordinal))
                    {
                        counts.Sign();
                    }
                }
            }
            catch (Exception cut) when (cut is IOException or SocketException or OperationCanceledException)
            {
                // There was no place for the connection, or it is over.
            }
        }
    }

    private async Task<string> PasscodeAsync()
    {
        using Process made = Command.Start(Command.Program, ["passcode", "set", "--print"], ("DIAGNOSTICS_PASSCODE_FILE", File));
        string output = await made.StandardOutput.ReadToEndAsync(Cancellation);
        await made.WaitForExitAsync(Cancellation);
        Assert.Equal(0, made.ExitCode);
        return Regex.Match(output, "^passcode: ([a-z0-9-]{19})\n").Groups[1].Value;
    }

    private static async Task<Uri> AddressAsync(Process process) => new((await process.StandardOutput.ReadLineAsync(Cancellation))!["report page: ".Length..]);

    private static async Task<JsonElement> ReportAsync(HttpClient client)
    {
        using JsonDocument document = JsonDocument.Parse(await client.GetStringAsync(new Uri("/report.json", UriKind.Relative), Cancellation));
        return document.RootElement.Clone();
    }

    private static long Frames(JsonElement report) => report.GetProperty("buses").EnumerateArray().Sum(bus => bus.GetProperty("frames").GetInt64());

    private static async Task<HttpResponseMessage> PostAsync(HttpClient client, string path, string form)
    {
        using HttpRequestMessage request = new(HttpMethod.Post, path) { Content = new StringContent(form, Encoding.ASCII, "application/x-www-form-urlencoded") };
        request.Headers.Add("Origin", client.BaseAddress!.GetLeftPart(UriPartial.Authority));
        return await client.SendAsync(request, Cancellation);
    }

    /// <summary>One of ten devices, over and over: slow heads, slow bodies, guesses, forged forms, odd paths, huge heads, answers that nobody reads.</summary>
    private static async Task AttackAsync(int number, Uri target, CancellationToken over)
    {
        string host = target.Authority;
        string[] requests =
        [
            $"GET / HTTP/1.1\r\nHost: {host}\r\nX-Slow: ",
            $"POST /sign-in HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: 4000\r\n\r\npasscode=",
            $"POST /sign-in HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: 23\r\nConnection: close\r\n\r\npasscode=guessed-again{number % 10}",
            $"POST /mark HTTP/1.1\r\nHost: {host}\r\nOrigin: http://library.example\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: 11\r\nConnection: close\r\n\r\nnote=forged",
            $"GET /captures/..%2f..%2fetc%2fpasswd HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n",
            $"GET / HTTP/1.1\r\nHost: {host}\r\nX-Huge: {new string('a', 60_000)}\r\n\r\n",
            string.Concat(Enumerable.Repeat($"GET /sign-in HTTP/1.1\r\nHost: {host}\r\n\r\n", 50)),
        ];
        byte[] answer = new byte[4096];
        while (!over.IsCancellationRequested)
        {
            try
            {
                using TcpClient client = new(new IPEndPoint(new IPAddress([127, 0, 1, (byte)(1 + (number % 10))]), 0));
                await client.ConnectAsync(IPAddress.Parse(target.Host), target.Port, over);
                NetworkStream stream = client.GetStream();
                await stream.WriteAsync(Encoding.ASCII.GetBytes(requests[number % requests.Length]), over);
                while (await stream.ReadAsync(answer, over) > 0)
                {
                }
            }
            catch (Exception cut) when (cut is IOException or SocketException or OperationCanceledException)
            {
                // It is cut off, or over.
            }
        }
    }
}
