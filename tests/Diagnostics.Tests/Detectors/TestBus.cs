using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Findings;

namespace Diagnostics.Tests.Detectors;

/// <summary>A CANopen bus of 125 kbit/s without traffic, for detectors whose rule is a figure of its own.</summary>
internal static class TestBus
{
    public static readonly Instant Start = new(1_700_000_000_000_000_000);

    public static (Bus Bus, FindingBook Book, NotSeenLedger Ledger) Create()
    {
        FindingBook book = new();
        NotSeenLedger ledger = new();
        AnalyzerOptions options = new() { SourceKind = "trace", SourceName = "test", Protocol = "canopen", BitRate = 125_000 };
        return (new(0, options, book, ledger, new(), Start), book, ledger);
    }
}
