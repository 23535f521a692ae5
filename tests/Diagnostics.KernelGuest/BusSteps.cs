using System.Diagnostics;
using System.Globalization;
using Diagnostics.Agent.Buses;

namespace Diagnostics.KernelGuest;

/// <summary>What happens inside the guest for the tests of the bus reader. It judges nothing: the tests outside do.</summary>
public sealed class BusSteps(TextWriter output)
{
    /// <summary>Frames of a burst: far more than the smallest receive buffer holds (the kernel's minimum is 2,304 bytes), and quickly sent.</summary>
    public const int Burst = 400;

    private static readonly TimeSpan Moment = TimeSpan.FromMilliseconds(200);

    public void RunAll()
    {
        Traffic();
        Appearing();
        ReceiveOverflow();
        QueueOverflow();
        Adapter();
        ClockStep();
    }

    private void Traffic()
    {
        using Listening listening = new("traffic", output, ["vcan0"]);
        AwaitReading("vcan0", listening, 0);
        Note("traffic", "before", NowNanoseconds());
        using (FrameSender sender = new("vcan0"))
        {
            sender.Send(0x185, [0xAA, 0xBB, 0xCC]);
            sender.Send(0x18EE_FF21 | FrameSender.Extended, [0x11, 0x22, 0x33, 0x44, 0x55, 0x66, 0x77, 0x88]);
            sender.SendRemote(0x705, 4);
            sender.SendFlexible(0x123, [.. Enumerable.Range(0, 64).Select(value => (byte)value)], FrameSender.BitRateSwitch);
            sender.SendFlexible(0x7FF, new byte[12], 0);
            sender.Send(0, []);
        }

        listening.Await(heard => heard.Id == "0x000");
        Note("traffic", "after", NowNanoseconds());
    }

    private void Appearing()
    {
        using Listening listening = new("appearing", output, ["vcan0", "vcan1"]);
        AwaitReading("vcan0", listening, 0);
        listening.Await(heard => heard is { Kind: "notSeen", Interface: 1 } && heard.Text!.Contains("exist", StringComparison.Ordinal));
        Ip("link add dev vcan1 type vcan");
        Ip("link set vcan1 up");
        AwaitReading("vcan1", listening, 1);
        Note("appearing", "down", NowNanoseconds());
        Ip("link set vcan1 down");
        listening.Await(heard => heard is { Kind: "notSeen", Interface: 1 } && heard.Text!.Contains("is down", StringComparison.Ordinal));
        Ip("link set vcan1 up");
        AwaitReading("vcan1", listening, 1);
        Note("appearing", "up", NowNanoseconds());
        Ip("link delete vcan1");
        listening.Await(heard => heard is { Kind: "notSeen", Interface: 1 } && heard.Text!.Contains("removed", StringComparison.Ordinal));
        Ip("link add dev vcan1 type vcan");
        Ip("link set vcan1 up");
        AwaitReading("vcan1", listening, 1);
        AwaitReading("vcan0", listening, 0);
        Note("appearing", "end", NowNanoseconds());
    }

    private void ReceiveOverflow()
    {
        using Listening listening = new("overflow", output, ["vcan0"], new() { ReceiveBufferBytes = 1, GatherTime = TimeSpan.FromMilliseconds(500) });
        AwaitReading("vcan0", listening, 0);
        using FrameSender sender = new("vcan0");
        for (int i = 0; i < Burst; i++)
        {
            sender.Send(0x321, BitConverter.GetBytes(i));
        }

        // The kernel tells the total with the next frame that finds room.
        for (int i = 0; i < 20 && listening.Count(heard => heard.Name == "KernelDropped") == 0; i++)
        {
            sender.Send(0x322, []);
            Note("overflow", "probe", "");
            listening.Await(heard => heard.Name == "KernelDropped", 1, TimeSpan.FromMilliseconds(600));
        }

        Finish(sender, listening);
    }

    private void QueueOverflow()
    {
        const int Frames = 3 * FrameBatch.Capacity;
        using Listening listening = new("queue", output, ["vcan0"], capacity: 1);
        AwaitReading("vcan0", listening, 0);
        listening.Pause();
        using FrameSender sender = new("vcan0");
        for (int i = 0; i < 20 && listening.FramesDropped == 0; i++)
        {
            for (int j = 0; j < Frames; j++)
            {
                sender.Send(0x322, BitConverter.GetBytes(j));
            }

            Note("queue", "sent", Frames);
            listening.Await(_ => true, int.MaxValue, Moment);
        }

        listening.Continue();
        for (int i = 0; i < 20 && listening.Count(heard => heard.Name == "QueueDropped") == 0; i++)
        {
            sender.Send(0x322, []);
            Note("queue", "sent", 1);
            listening.Await(heard => heard.Name == "QueueDropped", 1, Moment);
        }

        Finish(sender, listening);
    }

    private void Adapter()
    {
        SerialAdapter adapter = new();
        using LinkQuery links = new();
        string name = links.All().Single(link => link is { IsCan: true, Kind: "can" }).Name;
        Ip($"link set {name} type can bitrate 125000");
        Ip($"link set {name} up");
        using (Listening listening = new("adapter", output, [name]))
        {
            listening.Await(heard => heard is { Kind: "interface", BitRate: 125_000 });
            listening.Await(_ => adapter.Commands.Count >= 3, 1, Moment);
            adapter.Say("t1232AABB");
            adapter.Say("T1ABCDEF03010203");
            adapter.Say("r1234");
            listening.Await(heard => heard.Flags == "Remote");
            foreach (string message in new[] { "sw096010", "sp128000", "sa000000", "e1a", "e2Bs", "e1c", "sb000255" })
            {
                int before = listening.Count(heard => heard.Classes != 0);
                adapter.Say(message);
                listening.Await(heard => heard.Classes != 0, before + 1);
                if (message[0] == 's')
                {
                    Compare(message, name, links);
                }
            }

            // The kernel announces a link that went off the bus up to a second later; on a quick machine all else is over by then.
            listening.Await(heard => heard is { Kind: "interface", State: "BusOff" });
            adapter.Say("t0000");
            listening.Await(heard => heard.Id == "0x000");
        }

        Ip($"link set {name} down");
        Ip($"link set {name} type can listen-only on");
        Ip($"link set {name} up");
        using (Listening listening = new("listen-only", output, [name]))
        {
            listening.Await(heard => heard is { Kind: "interface", ListenOnly: true });
            adapter.Say("t1851FF");
            listening.Await(heard => heard.Id == "0x185");
        }

        Note("adapter", "transmitted", links.Find(name)!.FramesTransmitted ?? -1);
        Ip($"link set {name} down");
        foreach (string command in adapter.Commands)
        {
            Note("adapter", "command", command);
        }
    }

    /// <summary>What the reader's netlink code says beside what the program "ip" says, in the same words.</summary>
    private void Compare(string message, string name, LinkQuery links)
    {
        LinkFacts link = links.Find(name)!;
        Note("adapter", "link " + message, string.Create(
            CultureInfo.InvariantCulture,
            $"{link.State} bitrate {link.BitRate} warnings {link.Counts!.ErrorWarnings} passives {link.Counts.ErrorPassives} busoffs {link.Counts.BusOffs} buserrors {link.Counts.BusErrors} restarts {link.Counts.Restarts} arbitration {link.Counts.ArbitrationsLost} tx {link.FramesTransmitted} rx {link.FramesReceived}"));
        Note("adapter", "ip " + message, Ip($"-j -d -s link show dev {name}"));
    }

    private void ClockStep()
    {
        using Listening listening = new("clock", output, ["vcan0"]);
        AwaitReading("vcan0", listening, 0);
        using FrameSender sender = new("vcan0");
        sender.Send(0x001, []);
        listening.Await(heard => heard.Id == "0x001");
        long before = NowNanoseconds() / 1_000_000_000;
        Run("date", "-s @" + (before + 3600).ToString(CultureInfo.InvariantCulture));
        listening.Await(heard => heard.Name == "ClockStep");
        sender.Send(0x002, []);
        listening.Await(heard => heard.Id == "0x002");
        Run("date", "-s @" + before.ToString(CultureInfo.InvariantCulture));
        listening.Await(heard => heard.Name == "ClockStep", 2);
        sender.Send(0x003, []);
        listening.Await(heard => heard.Id == "0x003");
    }

    /// <summary>A last frame (0x7FD): when it is heard, everything that was sent before it has been heard or told as lost.</summary>
    private static void Finish(FrameSender sender, Listening listening)
    {
        sender.Send(0x7FD, []);
        listening.Await(heard => heard.Id == "0x7FD");
    }

    /// <summary>Sends probes (0x7FE) until one is heard.</summary>
    private static void AwaitReading(string name, Listening listening, int index)
    {
        using FrameSender sender = new(name);
        int before = listening.Count(heard => heard.Id == "0x7FE" && heard.Interface == index);
        for (int i = 0; i < 50; i++)
        {
            sender.Send(0x7FE, []);
            if (listening.Await(heard => heard.Id == "0x7FE" && heard.Interface == index, before + 1, Moment))
            {
                return;
            }
        }
    }

    private static long NowNanoseconds() => (DateTime.UtcNow - DateTime.UnixEpoch).Ticks * 100;

    private void Note(string step, string name, object value) =>
        output.WriteLine(new Observation(step, "note") { Name = name, Text = Convert.ToString(value, CultureInfo.InvariantCulture) }.ToLine());

    private static string Ip(string arguments) => Run("ip", arguments);

    private static string Run(string program, string arguments)
    {
        using Process process = Process.Start(new ProcessStartInfo(program, arguments) { RedirectStandardOutput = true })!;
        string text = process.StandardOutput.ReadToEnd();
        process.WaitForExit();
        return process.ExitCode == 0 ? text : throw new IOException($"{program} {arguments} ended with {process.ExitCode}");
    }
}
