using System.Buffers;
using System.Globalization;
using Diagnostics.Benchmarks.Traffic;
using Diagnostics.Can;
using Diagnostics.Can.Traces;

namespace Diagnostics.Benchmarks.Speed;

/// <summary>Writes the capture that the speed measurement reads.</summary>
internal static class TraceCommand
{
    private const int BitRate = 250_000;
    private const int FlushBytes = 1 << 20;

    /// <param name="words">File, frames, seed.</param>
    public static int Run(IReadOnlyList<string> words)
    {
        string file = words[0];
        long frames = words.Count > 1 ? long.Parse(words[1], CultureInfo.InvariantCulture) : 2_000_000;
        ulong seed = words.Count > 2 ? ulong.Parse(words[2], CultureInfo.InvariantCulture) : 1;
        SyntheticTraffic traffic = new(BitRate, pace: 1, seed);
        ArrayBufferWriter<byte> buffer = new(FlushBytes + 4096);
        using FileStream output = File.Create(file);
        PcapngWriter writer = new(buffer);
        writer.WriteInterface("can0");
        Instant last = traffic.Start;
        for (long i = 0; i < frames; i++)
        {
            ref readonly CanFrame frame = ref traffic.Next();
            writer.Write(frame);
            last = frame.Time;
            if (buffer.WrittenCount >= FlushBytes)
            {
                output.Write(buffer.WrittenSpan);
                buffer.ResetWrittenCount();
            }
        }

        output.Write(buffer.WrittenSpan);
        double seconds = (last - traffic.Start).TotalSeconds;
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{frames} frames in {seconds:0} s of a bus at {BitRate / 1000} kbit/s, load {traffic.Bits / seconds / BitRate:0.0 %}"));
        return 0;
    }
}
