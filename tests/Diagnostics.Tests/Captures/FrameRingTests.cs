using System.Text.Json;
using Diagnostics.Agent.Captures;
using Diagnostics.Can;
using Diagnostics.Tests.Detectors;
using Diagnostics.Tests.Simulation;

namespace Diagnostics.Tests.Captures;

/// <summary>What the ring gives away is a trace: it is read by the same reader as any other, and holds just what was heard.</summary>
public class FrameRingTests
{
    private static readonly Instant Start = Instant.FromSeconds(1_767_776_400);

    private static CanFrame Frame(int number) =>
        CanFrame.Classic(Start + TimeSpan.FromMilliseconds(number), CanId.Base((uint)(number % 0x700)), BitConverter.GetBytes(number)) with { Interface = (byte)(number & 1) };

    private static FrameRing Ring(int pieces, int frames, Recorder? next = null)
    {
        FrameRing ring = new(next ?? new(), pieces);
        ring.OnInterface(0, new InterfaceFacts("can0"));
        ring.OnInterface(1, new InterfaceFacts("can1"));
        for (int number = 0; number < frames; number++)
        {
            ring.OnFrame(Frame(number));
        }

        return ring;
    }

    private static JsonElement Source(byte[]? file, out JsonElement[] buses)
    {
        Replayed replayed = Replayed.OfBytes(file);
        Assert.Equal(0, replayed.ExitCode);
        buses = [.. replayed.Report.GetProperty("buses").EnumerateArray()];
        return replayed.Report.GetProperty("source");
    }

    [Fact]
    public void EverythingGoesOnToTheAnalysis()
    {
        Recorder next = new();
        FrameRing ring = Ring(2, 10, next);
        ring.OnNotSeen(new(NotSeenKind.KernelDropped, 0, Start, Start, 3, "full"));
        Assert.Equal(10, next.All.Count);
        Assert.Equal(2, next.Facts.Count);
        Assert.Single(next.Gaps);
    }

    [Fact]
    public void WhatIsTakenHoldsTheSpanAndAllInterfaces()
    {
        byte[]? file = Ring(8, 20_000).Take(Start, Start + TimeSpan.FromSeconds(30), 1 << 24);
        Source(file, out JsonElement[] buses);
        Assert.Equal(["can0", "can1"], buses.Select(bus => bus.GetProperty("interface").GetString()));
        Assert.Equal([10_000, 10_000], buses.Select(bus => bus.GetProperty("frames").GetInt32()));
    }

    [Fact]
    public void TheOldestIsWrittenOverAndTheRestIsWhole()
    {
        byte[]? file = Ring(4, 60_000).Take(Start, Start + TimeSpan.FromSeconds(100), 1 << 24);
        JsonElement source = Source(file, out JsonElement[] buses);
        int kept = buses.Sum(bus => bus.GetProperty("frames").GetInt32());

        // 48 bytes a frame, 3 or 4 pieces.
        Assert.InRange(kept, 3 * FrameRing.PieceBytes / 48 - 100, 4 * FrameRing.PieceBytes / 48);
        Assert.Equal((Start + TimeSpan.FromMilliseconds(60_000 - kept)).ToString(), source.GetProperty("start").GetString());
        Assert.Equal((Start + TimeSpan.FromMilliseconds(59_999)).ToString(), source.GetProperty("end").GetString());
    }

    [Fact]
    public void ALongSpanLosesItsBeginning()
    {
        byte[]? file = Ring(8, 30_000).Take(Start, Start + TimeSpan.FromSeconds(100), (2 * FrameRing.PieceBytes) + 1000);
        Assert.InRange(file!.Length, FrameRing.PieceBytes, (2 * FrameRing.PieceBytes) + 1000);
        Assert.Equal((Start + TimeSpan.FromMilliseconds(29_999)).ToString(), Source(file, out _).GetProperty("end").GetString());
    }

    [Fact]
    public void WhatWasDroppedIsInTheFile()
    {
        FrameRing ring = Ring(4, 100);
        ring.OnNotSeen(new(NotSeenKind.KernelDropped, 1, Start, Start + TimeSpan.FromSeconds(1), 7, "full"));
        ring.OnFrame(Frame(2_000));
        Assert.Equal(7, Source(ring.Take(Start, Start + TimeSpan.FromSeconds(9), 1 << 24), out _).GetProperty("notSeen").GetProperty("kernelDropped").GetInt32());
    }

    [Fact]
    public void AnInterfaceThatAppearsLaterTakesNothingFromWhatWasCounted()
    {
        FrameRing ring = new(new Recorder(), 4);
        ring.OnInterface(0, new InterfaceFacts("can0"));
        ring.OnFrame(Frame(0));
        ring.OnNotSeen(new(NotSeenKind.KernelDropped, 0, Start, Start + TimeSpan.FromSeconds(1), 7, "full"));
        ring.OnFrame(Frame(1_000));
        ring.OnInterface(1, new InterfaceFacts("can1"));
        ring.OnFrame(Frame(2_001));
        JsonElement source = Source(ring.Take(Start, Start + TimeSpan.FromSeconds(9), 1 << 24), out JsonElement[] buses);
        Assert.Equal(7, source.GetProperty("notSeen").GetProperty("kernelDropped").GetInt32());
        Assert.Equal([2, 1], buses.Select(bus => bus.GetProperty("frames").GetInt32()));
    }

    [Fact]
    public void NothingHeardIsNoFile()
    {
        Assert.Null(new FrameRing(new Recorder()).Take(Start, Start + TimeSpan.FromSeconds(9), 1 << 24));
        Assert.Null(Ring(4, 100).Take(Start + TimeSpan.FromHours(1), Start + TimeSpan.FromHours(2), 1 << 24));
    }

    /// <summary>All that a frame can be (the ten classes of linux/can/error.h), on as many interfaces as a board has, at the rate and with the name that the kernel told; some from before 1970, as of a clock that was never set.</summary>
    [Fact]
    public void WhateverIsHeardIsAFileThatIsRead()
    {
        FrameRing ring = new(new Recorder(), 16);
        Random chance = new(5);
        byte[] data = new byte[64];
        Instant start = Instant.FromSeconds(-30);
        for (byte index = 0; index < 8; index++)
        {
            ring.OnInterface(index, new InterfaceFacts("can-interface-" + index) { BitRate = 500_000 });
        }

        for (int number = 0; number < 60_000; number++)
        {
            chance.NextBytes(data);
            Instant time = start + TimeSpan.FromMilliseconds(number);
            CanFrame frame = (number % 4) switch
            {
                0 => CanFrame.ErrorReport(time, (uint)chance.Next(1, 0x400), data),
                1 => CanFrame.RemoteRequest(time, CanId.Base((uint)chance.Next(0x800)), (byte)chance.Next(9)),
                2 => CanFrame.Classic(time, CanId.Extended((uint)chance.Next(0x2000_0000)), data.AsSpan(0, chance.Next(9))) with { Flags = FrameFlags.OwnHost },
                _ => new() { Time = time, Id = CanId.Base((uint)chance.Next(0x800)), Flags = FrameFlags.Flexible | FrameFlags.OwnHost, Length = 64, DataLengthCode = 15 },
            };
            ring.OnFrame(frame with { Interface = (byte)(number % 8) });
            if (number % 9_000 == 0)
            {
                ring.OnNotSeen(new(NotSeenKind.QueueDropped, NotSeen.AllInterfaces, time, time, 3, "full"));
                Source(ring.Take(start, time, CaptureFiles.MostBytes), out _);
            }
        }

        byte[]? file = ring.Take(start, start + TimeSpan.FromSeconds(60), CaptureFiles.MostBytes);
        Assert.InRange(file!.Length, FrameRing.PieceBytes, CaptureFiles.MostBytes);
        JsonElement source = Source(file, out JsonElement[] buses);
        Assert.Equal(8, buses.Length);
        Assert.Equal(0, source.GetProperty("notSeen").GetProperty("damagedRecords").GetInt32());
    }

    [Fact]
    public void NoFrameAllocates()
    {
        FrameRing ring = new(new Sink(), 4);
        ring.OnInterface(0, new InterfaceFacts("can0"));
        ring.OnInterface(1, new InterfaceFacts("can1"));
        for (int number = 0; number < 60_000; number++)
        {
            ring.OnFrame(Frame(number));
        }

        CanFrame frame = Frame(60_000);
        long before = GC.GetAllocatedBytesForCurrentThread();
        for (int number = 0; number < 60_000; number++)
        {
            ring.OnFrame(frame);
        }

        // A new section each 5,000 frames is all.
        Assert.InRange(GC.GetAllocatedBytesForCurrentThread() - before, 0, 2_000);
    }

    private sealed class Sink : IFrameSink
    {
        public void OnInterface(byte index, InterfaceFacts facts)
        {
        }

        public void OnFrame(in CanFrame frame)
        {
        }

        public void OnNotSeen(in NotSeen notSeen)
        {
        }
    }
}
