using System.Buffers.Binary;
using Diagnostics.Simulation;
using Diagnostics.Tests.Detectors;

namespace Diagnostics.Tests.Recordings;

/// <summary>Frames taken out of recordings at random, and nobody says so: nobody is accused who wasn't before.</summary>
public class LostFrameTests
{
    private static readonly string[] Wrong = ["node.duplicate-address", "node.restarted", "node.silent", "node.unstable", "bus.restarted"];

    [Theory]
    [InlineData("0x1f201e0e.pcapng", 0.05)]
    [InlineData("July12_lights2.pcapng", 0.2)]
    [InlineData("cJSM+lJSM+dualcan.pcapng", 0.01)]
    [InlineData("cJSM+lJSM+dualcan.pcapng", 0.05)]
    [InlineData("cJSM+lJSM+dualcan.pcapng", 0.2)]
    [InlineData("multiple_failed_tries_to_powerup.pcapng", 0.2)]
    public void NobodyIsAccusedForThem(string file, double ratio)
    {
        byte[] whole = File.ReadAllBytes(RecordedFiles.Find("small-bus-125k", file));
        for (int seed = 0; seed < 4; seed++)
        {
            Replayed replayed = Replayed.OfBytes(Without(whole, ratio, new(seed)));
            Assert.Equal(0, replayed.ExitCode);
            Assert.True(!replayed.Kinds.Intersect(Wrong).Any(), $"seed {seed}: {string.Join(' ', replayed.Accusations)}");
        }
    }

    /// <summary>The one frame that commanded it is among those that went missing. Where next to nothing goes missing there was none, as far as anybody can tell.</summary>
    [Theory]
    [InlineData(0.0, true)]
    [InlineData(0.1, false)]
    [InlineData(0.4, false)]
    public void ACommandThatMayHaveBeenLostAccusesNobody(double ratio, bool expected)
    {
        byte[] whole = Replayed.TraceOf(Replayed.Library(new CommandedReset(0) { Start = Replayed.Minutes(3) }), Replayed.Minutes(5));
        Replayed replayed = Replayed.OfBytes(Without(whole, ratio, new(1), command: true));
        Assert.Contains(replayed.Kinds, kind => kind is "bus.restarted" or "node.restarted");
        Assert.Equal(expected, replayed.Accusations.Any(key => key.Contains("restarted", StringComparison.Ordinal)));
    }

    /// <summary>Packets are blocks of type 6, 3 and 2 (draft-tuexen-opsawg-pcapng, 10.1); these files are little-endian.</summary>
    private static byte[] Without(byte[] whole, double ratio, Random chance, bool command = false)
    {
        List<byte> kept = [];
        for (int at = 0; at + 12 <= whole.Length;)
        {
            int length = BinaryPrimitives.ReadInt32LittleEndian(whole.AsSpan(at + 4));
            bool isPacket = BinaryPrimitives.ReadUInt32LittleEndian(whole.AsSpan(at)) is 6 or 3 or 2;

            // An NMT command has identifier 0 (CiA 301, 7.2.8); the identifier is the record's first word, big-endian.
            bool isTaken = isPacket && (chance.NextDouble() < ratio || (command && BinaryPrimitives.ReadUInt32BigEndian(whole.AsSpan(at + 28)) == 0));
            if (!isTaken)
            {
                kept.AddRange(whole.AsSpan(at, length));
            }

            at += length;
        }

        return [.. kept];
    }
}
