using System.Globalization;
using System.Text;
using Diagnostics.Can;

namespace Diagnostics.Tests.Detectors;

/// <summary>A recording written down by hand: frames at seconds since the morning, in any order, replayed as the text log that they make.</summary>
internal sealed class TextTrace
{
    private readonly List<(double Seconds, string Frame)> _frames = [];

    public TextTrace Add(double seconds, int id, params int[] data)
    {
        _frames.Add((seconds, $"{id:X3}#{string.Concat(data.Select(value => value.ToString("X2", CultureInfo.InvariantCulture)))}"));
        return this;
    }

    /// <summary>A frame that comes by a clock, scattering by less than a millisecond.</summary>
    public TextTrace Every(double period, double from, double to, int id, params int[] data)
    {
        int count = 0;
        for (double time = from; time < to; time = from + (++count * period))
        {
            Add(time + (count * 7 % 10 * 5e-5), id, data);
        }

        return this;
    }

    public TextTrace Heartbeats(double to, params int[] nodes)
    {
        foreach (int node in nodes)
        {
            Every(1 + (node * 1e-5), node * 0.0713, to, 0x700 + node, 5);
        }

        return this;
    }

    public TextTrace Press(double seconds, int node, double length = 0.25) => Add(seconds, 0x180 + node, 1).Add(seconds + length, 0x180 + node, 0);

    /// <summary>An expedited download (CiA 301) and its confirmation.</summary>
    public TextTrace Write(double seconds, int node, int index, int subIndex, uint value, int bytes)
    {
        int[] head = [index & 0xFF, index >> 8, subIndex];
        int[] data = [.. Enumerable.Range(0, 4).Select(place => (int)((value >> (8 * place)) & 0xFF))];
        Add(seconds, 0x600 + node, [0x23 | ((4 - bytes) << 2), .. head, .. data]);
        return Add(seconds + 0.004, 0x580 + node, [0x60, .. head, 0, 0, 0, 0]);
    }

    public Replayed Replay(params string[] options)
    {
        StringBuilder text = new();
        foreach ((double seconds, string frame) in _frames.OrderBy(entry => entry.Seconds))
        {
            decimal time = (Replayed.Morning.Nanoseconds / 1e9m) + (decimal)seconds;
            text.Append(CultureInfo.InvariantCulture, $"({time:F6}) can0 {frame}\n");
        }

        return Replayed.OfText(text.ToString(), ["--bit-rate", "125000", .. options]);
    }
}
