using Diagnostics.Can;

namespace Diagnostics.KernelGuest;

/// <summary>
/// A bus of twenty modules by the second, as fast as a loop can: heartbeats, inputs, outputs that the controller repeats, some analog values; about 105 frames a second. Now
/// and then one module loses its supply for half a minute. Identifiers and contents: CiA 301, CiA 401.
/// </summary>
internal sealed class PlayedSite(TimeSpan faultInterval)
{
    public const int Modules = 20;
    public const int BitRate = 125_000;

    private const int OutageSeconds = 30;
    private const int PressSeconds = 900;
    private const byte BootUp = 0;
    private const byte Operational = 5;
    private const byte PreOperational = 0x7F;

    private static readonly (int Milliseconds, int Module, uint Id)[] Second = [.. Plan().OrderBy(frame => frame.Milliseconds)];

    private readonly int _faultSeconds = (int)faultInterval.TotalSeconds;
    private readonly ulong[] _values = new ulong[Modules + 1];
    private readonly Random _chance = new(1);

    /// <summary>Everything that is sent in one second.</summary>
    public void Play(IFrameSink sink, Instant start, int second)
    {
        int sinceFault = second % _faultSeconds;
        int faulty = second < _faultSeconds ? 0 : (second / _faultSeconds % Modules) + 1;
        Span<byte> data = stackalloc byte[8];
        foreach ((int milliseconds, int module, uint id) in Second)
        {
            Instant time = start + TimeSpan.FromMilliseconds(milliseconds);
            uint function = id & 0x780;
            if (module == faulty && sinceFault < OutageSeconds && function != 0x200)
            {
                continue;
            }

            // Where the module is back, it says so, and is told to go on two seconds later.
            bool isStarting = module == faulty && sinceFault - OutageSeconds is >= 0 and < 2;
            if (module == faulty && sinceFault == OutageSeconds && function == 0x700)
            {
                Send(sink, time - TimeSpan.FromMilliseconds(1), id, [BootUp]);
            }
            else if (module == faulty && sinceFault == OutageSeconds + 2 && function == 0x700)
            {
                Send(sink, time - TimeSpan.FromMilliseconds(1), 0, [1, (byte)module]);
            }

            if (isStarting && function != 0x700 && function != 0x200)
            {
                continue;
            }

            switch (function)
            {
                case 0x700:
                    Send(sink, time, id, [isStarting ? PreOperational : Operational]);
                    break;
                case 0x280:
                    _values[module] += (ulong)_chance.Next(4);
                    BitConverter.TryWriteBytes(data, _values[module]);
                    Send(sink, time, id, data);
                    break;
                default:
                    // Each module's button is pressed every quarter of an hour: 1,900 presses a day.
                    Send(sink, time, id, [(byte)(function == 0x180 && (second + (43 * module)) % PressSeconds == 0 ? 1 : 0), 0]);
                    break;
            }
        }
    }

    private static IEnumerable<(int Milliseconds, int Module, uint Id)> Plan()
    {
        for (int module = 1; module <= Modules; module++)
        {
            int phase = module * 7;
            yield return (phase, module, 0x700 + (uint)module);
            yield return (phase + 300, module, 0x180 + (uint)module);
            yield return (phase + 150, module, 0x200 + (uint)module);
            yield return (phase + 650, module, 0x200 + (uint)module);
            for (int tenths = 0; module % 4 == 0 && tenths < 10; tenths += 2)
            {
                yield return ((tenths * 100) + (phase / 2), module, 0x280 + (uint)module);
            }
        }
    }

    private static void Send(IFrameSink sink, Instant time, uint id, ReadOnlySpan<byte> data)
    {
        CanFrame frame = CanFrame.Classic(time, CanId.Base(id), data);
        sink.OnFrame(in frame);
    }
}
