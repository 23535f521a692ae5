using Diagnostics.Agent.Pages;
using Diagnostics.Core.Comparison;
using Diagnostics.Core.Findings;
using Diagnostics.Tests.Comparison;
using static Diagnostics.Tests.Comparison.Sides;

namespace Diagnostics.Tests.Pages;

/// <summary>A comparison as a person reads it.</summary>
public class ComparisonTextTests
{
    private static string Text(ObservedPeriod before, ObservedPeriod after, bool sameRecorder = false)
    {
        string text = ComparisonText.Render(Comparer.Compare(before, after, sameRecorder), TimeZoneInfo.Utc);
        Assert.All(text.Split('\n'), line => Assert.InRange(line.Length, 0, 80));
        Assert.DoesNotContain("  \n", text, StringComparison.Ordinal);
        return text;
    }

    private static string Joined(string text) => string.Join(' ', text.Split((char[])[' ', '\n'], StringSplitOptions.RemoveEmptyEntries));

    [Fact]
    public void TheVerdictComesFirstAndEachThingStandsUnderWhatBecameOfIt()
    {
        string text = Text(
            Side(1, Finding(Catalogue.NodeSilent, 13, lasts: true), Finding(Catalogue.NodeRestarted, 5, began: 3), Finding(Catalogue.DuplicateAddress, 7), Finding(Catalogue.NodeReplaced, 4)),
            Side(1, Finding(Catalogue.NodeRestarted, 5, began: 2), Finding(Catalogue.InputStuck, 1, input: 2)));
        Assert.StartsWith("Not fixed, and worse. Still there: restarts that nobody commanded of node 5. New: no release of input 2 of node 1. Not shown to be gone: two devices on the address of node 7. Gone: silence of node 13. before", Joined(text), StringComparison.Ordinal);
        string[] order = ["What is new", "1. WARNING: No release of input 2 of node 1", "What is still there", "2. WARNING: Restarts that nobody commanded of node 5", "What was not seen again, but not for long enough", "3. FAULT: Two devices on the address of node 7", "What is gone", "4. FAULT: Silence of node 13", "Worth knowing, and not judged", "NOTE: Another device at the address of node 4", "What was counted", "How this was judged"];
        int[] places = [.. order.Select(part => text.IndexOf(part, StringComparison.Ordinal))];
        Assert.DoesNotContain(-1, places);
        Assert.Equal(places.Order(), places);
    }

    [Fact]
    public void CountsAreToldWithTheirIntervalsAndTheirDifference()
    {
        string text = Joined(Text(Of("b", 1, WithErrors(Bus(1), 24)), Of("a", 1, WithErrors(Bus(1), 0))));
        // 24 and 0 of 2,400,000 bits: 10 in a million; Garwood's limits of 24 are 15.38 and 35.71, the upper of none 3.69 (chi-square quantiles); the ratio is at most 40^(1/24) − 1.
        Assert.Contains("Disturbances: before 24 in 2,400,000 bits (10 in a million, between 6.41 in a million and 14.9 in a million); after 0 in 2,400,000 bits (at most 1.54 in a million): fewer than chance explains (0 to 0.1661 times as many, p < 0.0001).", text, StringComparison.Ordinal);
        Assert.Contains("Restarts that nobody commanded: before 0 in 1 h (at most 3.69 an hour); after 0 in 1 h (at most 3.69 an hour): none on either side.", text, StringComparison.Ordinal);
    }

    [Fact]
    public void MissingModulesStandOut()
    {
        string text = Joined(Text(Side(1), Of("a", 1, Without(Bus(1), 9))));
        Assert.Contains("MISSING: node 9 “café dimmers” was heard before and not once after, though it sends regularly.", text, StringComparison.Ordinal);
    }

    [Fact]
    public void TheWayOutIsToldWhereOneSideSawNoErrors()
    {
        ObservedPeriod before = Of("b", 1, WithErrors(Bus(1), 24), Finding(Catalogue.ErrorRate, lasts: true));
        ObservedPeriod after = Of("a", 1, WithErrors(Bus(1), null) with { ErrorReporting = null });
        Assert.Contains("say --same-recorder", Joined(Text(before, after)), StringComparison.Ordinal);
        Assert.DoesNotContain("--same-recorder", Text(before, after, sameRecorder: true), StringComparison.Ordinal);
    }

    [Fact]
    public void NamesOfTheSiteCanNotSpoilTheTerminal()
    {
        ObservedBus hostile = With(Bus(1), 9, node => node with { Name = "\u001b[31m\u202Ecafé\n" });
        string text = Text(Of("b\u001b[0m", 1, hostile, Finding(Catalogue.NodeErrors, 9)), Of("a", 1, hostile, Finding(Catalogue.NodeErrors, 9)));
        Assert.DoesNotContain('\u001b', text);
        Assert.DoesNotContain('\u202E', text);
    }
}
