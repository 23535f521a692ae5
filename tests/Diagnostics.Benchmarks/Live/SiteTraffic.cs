using System.Diagnostics;
using System.Globalization;
using System.Runtime.InteropServices;
using Diagnostics.Can;
using Diagnostics.Simulation;

namespace Diagnostics.Benchmarks.Live;

/// <summary>
/// The simulated site on a bus of 1 Mbit/s that a further device fills, as its observer hears it. Another process simulates it into a file beforehand, so that neither its
/// time nor its memory is taken for the service's; reading that back costs next to nothing.
/// </summary>
internal sealed class SiteTraffic : IDisposable
{
    public const int BitRate = 1_000_000;

    /// <summary>The word by which this program is called to simulate it: the file, then seconds; prints the bits on the wire.</summary>
    public const string Word = "live-site";

    private readonly FileStream _file;
    private readonly CanFrame[] _block = new CanFrame[512];
    private int _count;
    private int _next;

    private SiteTraffic(string path, double bits)
    {
        _file = new(path, FileMode.Open, FileAccess.Read, FileShare.Read, bufferSize: 0);
        Bits = bits;
        Start = Library.Start;
    }

    public double Bits { get; }

    public Instant Start { get; }

    private static Site Library => WrenfieldLibrary.Create() with { BitRate = BitRate, Faults = [new HighLoad(1)] };

    public static SiteTraffic Create(string path, TimeSpan length)
    {
        ProcessStartInfo start = new(Environment.ProcessPath!, [Word, path, length.TotalSeconds.ToString(CultureInfo.InvariantCulture)]) { RedirectStandardOutput = true };
        using Process simulation = Process.Start(start)!;
        string bits = simulation.StandardOutput.ReadToEnd();
        simulation.WaitForExit();
        return new(path, double.Parse(bits, CultureInfo.InvariantCulture));
    }

    /// <param name="words">The file, and seconds.</param>
    public static int Record(IReadOnlyList<string> words)
    {
        using Recording recording = new(words[0]);
        new SiteSimulation(Library).Run(recording, TimeSpan.FromSeconds(double.Parse(words[1], CultureInfo.InvariantCulture)));
        Console.WriteLine(recording.Bits.ToString(CultureInfo.InvariantCulture));
        return 0;
    }

    /// <returns>False behind the last frame.</returns>
    public bool TryNext(out CanFrame frame)
    {
        if (_next == _count)
        {
            _count = _file.ReadAtLeast(MemoryMarshal.AsBytes(_block.AsSpan()), _block.Length * Marshal.SizeOf<CanFrame>(), throwOnEndOfStream: false) / Marshal.SizeOf<CanFrame>();
            _next = 0;
        }

        bool isThere = _next < _count;
        frame = isThere ? _block[_next++] : default;
        return isThere;
    }

    public void Dispose() => _file.Dispose();

    private sealed class Recording(string path) : IFrameSink, IDisposable
    {
        private readonly BufferedStream _file = new(File.Create(path), 1 << 20);

        public double Bits { get; private set; }

        public void OnInterface(byte index, InterfaceFacts facts)
        {
        }

        public void OnFrame(in CanFrame frame)
        {
            _file.Write(MemoryMarshal.AsBytes(new ReadOnlySpan<CanFrame>(in frame)));
            Bits += frame.IsError ? 0 : FrameLength.Of(frame).Nominal;
        }

        public void OnNotSeen(in NotSeen notSeen)
        {
        }

        public void Dispose() => _file.Dispose();
    }
}
