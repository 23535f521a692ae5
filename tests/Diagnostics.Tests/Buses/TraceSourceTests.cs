using System.Text;
using Diagnostics.Agent;
using Diagnostics.Agent.Buses;
using Diagnostics.Can;
using Diagnostics.Can.Traces;
using Diagnostics.Tests.Can.Traces;

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
