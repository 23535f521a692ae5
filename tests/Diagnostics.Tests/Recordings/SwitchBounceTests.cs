using System.Globalization;
using System.Text;
using Diagnostics.Tests.Detectors;
using Diagnostics.Tests.Protocols.CanOpen;

namespace Diagnostics.Tests.Recordings;

/// <summary>
/// Edges of real push buttons (recordings/switch-bounce), seen by a module that looks at its inputs every millisecond and has an input filter, as TPDO1 changes.
/// One operation is one change of state; session s1 is a good button, s2 a worn one.
/// </summary>
public class SwitchBounceTests
{
    private const long Millisecond = 1_000_000;

    /// <summary>Milliseconds at which the module reports a change, operation by operation.</summary>
    private static List<List<long>> Operations(string session, long filterMilliseconds)
    {
        Dictionary<(string, string), List<(long Time, bool Level)>> edges = [];
        List<(string, string)> order = [];
        foreach (string line in RecordedFiles.Lines("switch-bounce", "edges.csv").Skip(1))
        {
            string[] cells = line.Split(',');
            if (!cells[0].StartsWith(session, StringComparison.Ordinal))
            {
                continue;
            }

            (string, string) key = (cells[1], cells[2]);
            if (!edges.TryGetValue(key, out List<(long, bool)>? operation))
            {
                edges.Add(key, operation = []);
                order.Add(key);
            }

            operation.Add((long.Parse(cells[5], CultureInfo.InvariantCulture), cells[3] == "1"));
        }

        return [.. order.Select(key => Scan(edges[key], filterMilliseconds * Millisecond))];
    }

    private static List<long> Scan(List<(long Time, bool Level)> edges, long filter)
    {
        List<long> changes = [];
        bool level = !edges[0].Level;
        bool told = level;
        long since = long.MinValue / 2;
        int next = 0;
        for (long time = 0; time <= edges[^1].Time + (50 * Millisecond); time += Millisecond)
        {
            for (; next < edges.Count && edges[next].Time <= time; next++)
            {
                since = edges[next].Level != level ? edges[next].Time : since;
                level = edges[next].Level;
            }

            if (level != told && time - since >= filter)
            {
                told = level;
                changes.Add(time / Millisecond);
            }
        }

        return changes;
    }

    /// <summary>The operations 5 s apart at input 1 of node 5, with the module's heartbeat.</summary>
    private static Replayed Replay(List<List<long>> operations)
    {
        SortedDictionary<long, string> frames = new() { [0] = "185#00" };
        long start = 5000;
        bool active = false;
        foreach (List<long> changes in operations)
        {
            foreach (long change in changes)
            {
                active = !active;
                frames[start + change] = active ? "185#01" : "185#00";
            }

            start += 5000;
        }

        for (long beat = 500; beat < start; beat += 1000)
        {
            frames.TryAdd(beat, "705#05");
        }

        StringBuilder log = new();
        foreach ((long time, string frame) in frames)
        {
            log.Append(CultureInfo.InvariantCulture, $"({1_700_000_000 + (time / 1000)}.{time % 1000:000}000) can0 {frame}\n");
        }

        return Replayed.OfText(log.ToString(), "--protocol", "canopen", "--bit-rate", "125000");
    }

    [Theory]
    [InlineData("s1", 0, false)]
    [InlineData("s1", 10, false)]
    [InlineData("s2", 0, true)]
    [InlineData("s2", 10, false)]
    public void TheWornButtonChattersWhereTheFilterLetsItThrough(string session, int filterMilliseconds, bool chatters)
    {
        List<List<long>> operations = Operations(session, filterMilliseconds);
        Assert.InRange(operations.Count, 110, 123);
        Replayed replayed = Replay(operations);
        Assert.Equal(chatters ? ["input.chatter"] : [], replayed.Kinds);
    }

    /// <summary>
    /// Operations with two levels in a row below 50 ms each, counted from the edges: without a filter 1 of 110 on the good button and 24 of 120 on the worn one;
    /// with 10 ms none and 1.
    /// </summary>
    [Theory]
    [InlineData("s1", 0, 1)]
    [InlineData("s1", 10, 0)]
    [InlineData("s2", 0, 24)]
    [InlineData("s2", 10, 1)]
    public void SoManyOperationsAreChattered(string session, int filterMilliseconds, int expected) => Assert.Equal(expected, Operations(session, filterMilliseconds).Count(changes =>
        changes.Zip(changes.Skip(1), (a, b) => b - a).ToArray() is var gaps && gaps.Zip(gaps.Skip(1)).Any(pair => pair.First < 50 && pair.Second < 50)));
}
