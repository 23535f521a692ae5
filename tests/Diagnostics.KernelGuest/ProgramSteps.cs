using System.Diagnostics;
using System.Globalization;
using System.Net.Sockets;
using System.Text;
using Diagnostics.Agent.Buses;

namespace Diagnostics.KernelGuest;

/// <summary>
/// The built program, as a service would run it, on two interfaces of this kernel: a virtual bus with a small site on it, and the played adapter.
/// What it reports is left in files; the tests outside judge it.
/// </summary>
public sealed class ProgramSteps
{
    private const string Page = "http://127.0.0.1:8480/";

    /// <summary>Heartbeats that the site sends before one of its two modules falls silent, one each 400 ms.</summary>
    public const int Rounds = 15;

    /// <summary>Heartbeats of the other module after that: five seconds, where 1.4 s is the limit.</summary>
    public const int RoundsAfter = 13;

    /// <summary>Frames that arrive while the live stream is wanted by more than there are places for.</summary>
    public const int WatchedFrames = 5000;

    /// <summary>Of these.</summary>
    public const int Readers = 200;

    /// <summary>Frames on the virtual bus before that.</summary>
    public const int FramesBefore = (3 * Rounds) + RoundsAfter + 3;

    public static void RunAll(string program)
    {
        SerialAdapter adapter = new();
        using LinkQuery links = new();
        string name = links.All().Single(link => link is { IsCan: true, Kind: "can" }).Name;
        Programs.Run("ip", "link", "set", name, "type", "can", "bitrate", "125000", "listen-only", "on");
        Programs.Run("ip", "link", "set", name, "up");
        using Process listen = Process.Start(new ProcessStartInfo("dotnet", $"{program} listen vcan0 {name} --bit-rate 125000 --log log") { RedirectStandardOutput = true, RedirectStandardError = true })!;
        Task<string> output = listen.StandardOutput.ReadToEndAsync();
        Task<string> error = listen.StandardError.ReadToEndAsync();
        using HttpClient client = new();
        string report = Await(client, listen, text => text.Contains("\"vcan0\"", StringComparison.Ordinal) && text.Contains($"\"{name}\"", StringComparison.Ordinal));

        using (FrameSender site = new("vcan0"))
        using (ManualResetEventSlim never = new())
        {
            for (int i = 0; i < Rounds; i++)
            {
                site.Send(0x705, [5]);
                site.Send(0x706, [5]);
                site.Send(0x185, [(byte)(i / 5)]);
                never.Wait(400);
            }

            // Module 6 falls silent, module 5 goes on.
            for (int i = 0; i < RoundsAfter; i++)
            {
                site.Send(0x705, [5]);
                never.Wait(400);
            }

            site.Send(0x18EE_FF21 | FrameSender.Extended, [1, 2, 3, 4, 5, 6, 7, 8]);
            site.SendRemote(0x705, 1);
            site.SendFlexible(0x123, new byte[64], FrameSender.BitRateSwitch);
        }

        File.WriteAllText("report-streams.json", Watched(client, listen));
        foreach (string message in new[] { "t1851FF", "sw096010", "sp128000", "e1a", "e2Bs", "sb000255" })
        {
            adapter.Say(message);
        }

        report = Await(client, listen, text => text.Contains("node.silent", StringComparison.Ordinal) && text.Contains("\"0x18EEFF21\"", StringComparison.Ordinal) && text.Contains("\"busOff\": 1", StringComparison.Ordinal));
        File.WriteAllText("report.json", report);
        File.WriteAllText("page.html", client.GetStringAsync(Page).GetAwaiter().GetResult());
        Programs.Run("ip", "link", "set", name, "down");
        report = Await(client, listen, text => text.Contains("is down", StringComparison.Ordinal));
        File.WriteAllText("report-down.json", report);
        Programs.Run("kill", "-TERM", listen.Id.ToString(CultureInfo.InvariantCulture));
        listen.WaitForExit();
        File.WriteAllText("listen-exit", listen.ExitCode.ToString(CultureInfo.InvariantCulture));
        File.WriteAllText("listen-output", output.Result + error.Result);
        File.WriteAllText("adapter-commands", string.Join('\n', adapter.Commands));
        File.WriteAllText("transmitted", string.Join(' ', (links.Find(name)!.FramesTransmitted ?? -1).ToString(CultureInfo.InvariantCulture)));
    }

    /// <summary>Frames arrive on the virtual bus while far more readers than there are places want the live stream.</summary>
    /// <returns>The report afterwards.</returns>
    private static string Watched(HttpClient client, Process listen)
    {
        using CancellationTokenSource over = new();
        byte[] request = Encoding.ASCII.GetBytes($"GET {LiveStream.PathOf(client.GetStringAsync(Page).GetAwaiter().GetResult())} HTTP/1.1\r\nHost: 127.0.0.1:8480\r\n\r\n");
        Task[] readers = [.. Enumerable.Range(0, Readers).Select(_ => WatchAsync(request, over.Token))];
        using (FrameSender site = new("vcan0"))
        using (ManualResetEventSlim never = new())
        {
            for (int i = 0; i < WatchedFrames; i++)
            {
                site.Send(0x185, [(byte)i]);

                // A module of the site goes on, or it would be silent; a hundred frames in 100 ms are what 125 kbit/s carries.
                if (i % 100 == 0)
                {
                    site.Send(0x705, [5]);
                    never.Wait(100);
                }
            }
        }

        string report = Await(client, listen, text => text.Contains($"\"frames\": {FramesBefore + WatchedFrames + (WatchedFrames / 100)}", StringComparison.Ordinal));
        over.Cancel();
        Task.WaitAll(readers);
        return report;
    }

    /// <summary>One who wants the stream, keeps it where there is a place, and asks again where there is none.</summary>
    private static async Task WatchAsync(byte[] request, CancellationToken over)
    {
        byte[] answer = new byte[16 * 1024];
        while (!over.IsCancellationRequested)
        {
            try
            {
                using TcpClient client = new();
                await client.ConnectAsync("127.0.0.1", 8480, over).ConfigureAwait(false);
                await client.GetStream().WriteAsync(request, over).ConfigureAwait(false);
                while (await client.GetStream().ReadAsync(answer, over).ConfigureAwait(false) > 0)
                {
                }
            }
            catch (Exception cut) when (cut is IOException or SocketException or OperationCanceledException)
            {
                // No place, or over.
            }
        }
    }

    /// <summary>The first report that satisfies, or the last one after half a minute.</summary>
    private static string Await(HttpClient client, Process listen, Func<string, bool> satisfies)
    {
        string report = "";
        using ManualResetEventSlim never = new();
        for (int i = 0; i < 100 && !listen.HasExited; i++)
        {
            try
            {
                report = client.GetStringAsync(Page + "report.json").GetAwaiter().GetResult();
                if (satisfies(report))
                {
                    break;
                }
            }
            catch (HttpRequestException)
            {
                // The page isn't there yet.
            }

            never.Wait(300);
        }

        return report;
    }
}
