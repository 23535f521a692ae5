using System.Text;
using System.Text.Json;
using Diagnostics.Agent;
using Diagnostics.Agent.Buses;
using Diagnostics.Can;
using Diagnostics.Can.Traces;
using Diagnostics.Tests.Can.Traces;
using Diagnostics.Tests.Detectors;

namespace Diagnostics.Tests.Buses;

public sealed class TraceSourceTests : IDisposable
{
    private readonly string _directory = Directory.CreateTempSubdirectory("diagnostics-test-").FullName;

    public void Dispose() => Directory.Delete(_directory, recursive: true);

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    /// <summary>A text log of so many frames, a millisecond apart.</summary>
    private static string Log(int frames, int first = 0)
    {
        StringBuilder text = new();
        for (int i = first; i < first + frames; i++)
        {
            text.Append(System.Globalization.CultureInfo.InvariantCulture, $"({1_700_000_000 + (i / 1000)}.{i % 1000:D3}000) can0 {0x181 + (i % 8):X3}#{i:X8}\n");
        }

        return text.ToString();
    }

    private string Write(string name, string text)
    {
        string path = Path.Combine(_directory, name);
        File.WriteAllText(path, text);
        return path;
    }

    [Fact]
    public void HandsOverWhatTheTimeLineGivesInItsOrder()
    {
        string text = Log(20_000).Replace("#00001234", "?", StringComparison.Ordinal);
        CollectingSink expected = new();
        TimeLine line = new(expected);
        TraceParser parser = TraceParser.Create(line);
        Assert.True(parser.Feed(Encoding.UTF8.GetBytes(text)) && parser.Complete());
        line.Complete();
        CollectingSink heard = new();
        using TraceSource source = new([Write("site.log", text)], Stream.Null);
        while (source.Read(heard, Timeout.InfiniteTimeSpan, Cancellation))
        {
        }

        Assert.Equal(19_999, heard.Frames.Count);
        Assert.NotEmpty(heard.NotSeen);
        Assert.Equal(expected.Story, heard.Story);
    }

    [Fact]
    public void WhatComesBeforeAFileThatIsNoneIsHandedOverAndThenTheReason()
    {
        CollectingSink heard = new();
        using TraceSource source = new([Write("first.log", Log(5_000)), Path.Combine(_directory, "second.log")], Stream.Null);
        SettingException refused = Assert.Throws<SettingException>(() =>
        {
            while (source.Read(heard, Timeout.InfiniteTimeSpan, Cancellation))
            {
            }
        });
        Assert.Contains("second.log: there is no such file", refused.Message, StringComparison.Ordinal);

        // The last second stays with the time line, which waits for frames out of order.
        Assert.InRange(heard.Frames.Count, 3_900, 5_000);
    }

    [Theory]
    [InlineData(false, 0)]
    [InlineData(true, 1)]
    public void TheOrderOfFilesIsTheReadersToSay(bool isWrong, int remarks)
    {
        string[] files = [Write("first.log", Log(5_000)), Write("second.log", Log(5_000, 70_000))];
        using TraceSource source = new(isWrong ? [files[1], files[0]] : files, Stream.Null);
        CollectingSink heard = new();
        while (source.Read(heard, Timeout.InfiniteTimeSpan, Cancellation))
        {
        }

        Assert.Equal(10_000, heard.Frames.Count);
        Assert.Equal(remarks, source.Remarks.Count(remark => remark.English.Contains("name the earlier one first", StringComparison.Ordinal)));
        Assert.Equal(isWrong ? NotSeenKind.ClockStep : NotSeenKind.NotRecorded, Assert.Single(heard.NotSeen).Kind);
    }

    [Fact]
    public void TimeBetweenFilesIsNotJudged()
    {
        // Heartbeats of 1 s, recorded for two hours on one day and for two on another, in the same phases.
        static string Heartbeats(long start) => string.Concat(Enumerable.Range(0, 7200).SelectMany(second => new[] { 1, 2, 3, 5 }.Select(node =>
            string.Create(System.Globalization.CultureInfo.InvariantCulture, $"({start + second}.{node * 37:D3}000) can0 70{node}#05\n"))));
        JsonElement report = Replayed.OfFile(
            Write("thursday.log", Heartbeats(1_700_000_000 + (3 * 86_400))), "--bit-rate", "125000", Write("monday.log", Heartbeats(1_700_000_000))).Report;
        Assert.Empty(report.GetProperty("findings").EnumerateArray());
        JsonElement bus = report.GetProperty("buses")[0];
        Assert.InRange(bus.GetProperty("heardSeconds").GetDouble(), 14_390, 14_400);
        double[] restartFree = [.. report.GetProperty("assurances").EnumerateArray().Where(each => each.GetProperty("statement").GetString() == "no restart").Select(each => each.GetProperty("observed").GetDouble())];
        Assert.Equal(4, restartFree.Length);
        Assert.All(restartFree, hours => Assert.InRange(hours, 3.9, 4.0));
        Assert.Equal("Between two files nothing was recorded, for 2 days 22 h.", Assert.Single(report.GetProperty("source").GetProperty("notSeen").GetProperty("gaps").EnumerateArray()).GetProperty("why").GetString());
    }

    [Fact]
    public async Task ReaderStopsWhenNobodyWantsTheRest()
    {
        EndlessLog input = new();
        using (TraceSource source = new(["-"], input))
        {
            source.Read(new CollectingSink(), Timeout.InfiniteTimeSpan, Cancellation);
        }

        int reads = -1;
        await Patience.UntilAsync(() => reads == (reads = input.Reads));
        Assert.InRange(reads, 1, 100);
    }

    [Fact]
    public void InterruptionDoesNotWaitForInput()
    {
        using CancellationTokenSource interrupted = new();
        using SilentInput input = new();
        using TraceSource source = new(["-"], input);
        interrupted.CancelAfter(TimeSpan.FromMilliseconds(50));
        Assert.ThrowsAny<OperationCanceledException>(() => source.Read(new CollectingSink(), Timeout.InfiniteTimeSpan, interrupted.Token));
    }

    /// <summary>As a pipe behind which a recording goes on.</summary>
    private sealed class EndlessLog : MemoryStream
    {
        private int _next;

        public int Reads { get; private set; }

        public override int Read(byte[] buffer, int offset, int count)
        {
            Reads++;
            byte[] bytes = Encoding.UTF8.GetBytes(Log(4_000, _next));
            _next += 4_000;
            bytes.CopyTo(buffer, offset);
            return bytes.Length;
        }
    }

    /// <summary>As a terminal at which nobody types.</summary>
    private sealed class SilentInput : MemoryStream
    {
        private readonly ManualResetEventSlim _over = new();

        public override int Read(byte[] buffer, int offset, int count)
        {
            _over.Wait(Cancellation);
            return 0;
        }

        protected override void Dispose(bool disposing)
        {
            _over.Set();
            base.Dispose(disposing);
        }
    }
}
