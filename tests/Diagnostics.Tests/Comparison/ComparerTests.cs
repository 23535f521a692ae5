using Diagnostics.Core.Comparison;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Reporting;
using static Diagnostics.Tests.Comparison.Sides;

namespace Diagnostics.Tests.Comparison;

/// <summary>What becomes of each finding, at the limit of each rule, and what the verdict is.</summary>
public class ComparerTests
{
    private static ComparisonReport Compare(ObservedPeriod before, ObservedPeriod after, bool sameRecorder = false) => Comparer.Compare(before, after, sameRecorder);

    private static string Outcome(ObservedPeriod before, ObservedPeriod after, FindingKind kind, int? node = null) => Compare(before, after).The(kind, node).Outcome;

    /// <summary>n episodes in Tb hours: gone from Tb·(20^(1/n) − 1) hours on, which is 19, 1.7144 and 0.3493 times Tb.</summary>
    [Theory]
    [InlineData(1, 38.1, 37.9)]
    [InlineData(3, 3.43, 3.42)]
    [InlineData(10, 0.699, 0.698)]
    public void WhatCameAtARateIsGoneOnceChanceIsBelowFivePercent(long episodes, double enough, double tooShort)
    {
        ObservedPeriod before = Side(2, Finding(Catalogue.NodeRestarted, 5, episodes));
        Assert.Equal(ComparedFinding.Gone, Outcome(before, Side(enough), Catalogue.NodeRestarted, 5));
        ComparisonReport early = Compare(before, Side(tooShort));
        ComparedFinding finding = early.The(Catalogue.NodeRestarted, 5);
        Assert.Equal(ComparedFinding.NotSeenAgain, finding.Outcome);
        Assert.InRange(finding.MoreSeconds!.Value, 1, 3600 * (enough - tooShort));
        Assert.Equal(ComparisonReport.CannotTell, early.Verdict);
        Assert.StartsWith("Can't tell yet.", early.Sentence, StringComparison.Ordinal);
        Assert.False(early.IsGood());
    }

    /// <summary>Two minutes to learn and 19 times what it took to be noticed: 120 + 19 · 60 = 1,260 s.</summary>
    [Theory]
    [InlineData(1261, ComparedFinding.Gone)]
    [InlineData(1259, ComparedFinding.NotSeenAgain)]
    public void WhatLastedIsGoneAfterNineteenTimesTheTimeItTookToBeNoticed(double seconds, string outcome)
    {
        ObservedPeriod before = Side(5, Finding(Catalogue.DuplicateAddress, 7, lasts: true, noticedSeconds: 60));
        Assert.Equal(outcome, Outcome(before, Side(seconds / 3600), Catalogue.DuplicateAddress, 7));
    }

    [Theory]
    [InlineData(601, ComparedFinding.Gone)]
    [InlineData(599, ComparedFinding.NotSeenAgain)]
    public void NothingIsGoneInLessThanTenMinutes(double seconds, string outcome)
    {
        ObservedPeriod before = Side(5, Finding(Catalogue.NodeSilent, 7, lasts: true, noticedSeconds: 0));
        Assert.Equal(outcome, Outcome(before, Side(seconds / 3600), Catalogue.NodeSilent, 7));
    }

    /// <summary>40 disturbances in an hour and 4 after: with 44 in all, 4 or fewer have 5 % at 0.243903 hours (sums of the binomial with 40 digits).</summary>
    [Theory]
    [InlineData(0.2440, ComparedFinding.Gone)]
    [InlineData(0.2438, ComparedFinding.NotSeenAgain)]
    public void ErrorsAreJudgedByTheirCountsAndNotByEpisodes(double hours, string outcome)
    {
        ObservedPeriod before = Of("b", 1, WithErrors(Bus(1), 40), Finding(Catalogue.ErrorRate, lasts: true));
        ObservedPeriod after = Of("a", hours, WithErrors(Bus(hours), 4));
        ComparedFinding finding = Compare(before, after).The(Catalogue.ErrorRate);
        Assert.Equal(outcome, finding.Outcome);
        Assert.Contains("40 disturbances before, 4 in the", finding.Why, StringComparison.Ordinal);
    }

    /// <summary>8 damaged of 3,408 frames before: none in 45.42 % as many is enough, 20^(1/8) − 1; that is 1,547.8 frames.</summary>
    [Theory]
    [InlineData(0.4556, ComparedFinding.Gone)]
    [InlineData(0.4549, ComparedFinding.NotSeenAgain)]
    public void DamagedFramesOfANodeAreJudgedByItsFrames(double hours, string outcome)
    {
        ObservedBus damaged = WithErrors(With(Bus(1), 9, node => node with { Errors = 8 }), 9);
        ObservedPeriod before = Of("b", 1, damaged, Finding(Catalogue.NodeErrors, 9, lasts: true));
        Assert.Equal(outcome, Outcome(before, Side(hours), Catalogue.NodeErrors, 9));
    }

    [Fact]
    public void StillAsManyDamagedFramesAreNotGoneThoughNoFindingSaysSo()
    {
        ObservedBus before = WithErrors(With(Bus(1), 9, node => node with { Errors = 20 }), 25);
        ObservedBus after = WithErrors(With(Bus(1), 9, node => node with { Errors = 15 }), 18);
        ComparisonReport comparison = Compare(Of("b", 1, before, Finding(Catalogue.NodeErrors, 9, lasts: true)), Of("a", 1, after));
        Assert.Equal(ComparedFinding.NotSeenAgain, comparison.The(Catalogue.NodeErrors, 9).Outcome);
        Assert.Equal(ComparisonReport.CannotTell, comparison.Verdict);
    }

    [Fact]
    public void FixedIsSaidOnlyIfAllIsGoneAndNothingIsNew()
    {
        ObservedPeriod before = Side(1, Finding(Catalogue.NodeSilent, 13, lasts: true), Finding(Catalogue.NodeRestarted, 5, began: 10));
        ComparisonReport good = Compare(before, Side(1));
        Assert.Equal(ComparisonReport.Fixed, good.Verdict);
        Assert.True(good.IsGood());
        Assert.StartsWith("Fixed: silence of node 13 and restarts that nobody commanded of node 5.", good.Sentence, StringComparison.Ordinal);

        ComparisonReport still = Compare(before, Side(1, Finding(Catalogue.NodeRestarted, 5)));
        Assert.Equal(ComparisonReport.NotFixed, still.Verdict);
        Assert.Equal("Not fixed. Still there: restarts that nobody commanded of node 5. Gone: silence of node 13.", still.Sentence);
        Assert.Equal("Before: 10 times in 60 min; after: once in 60 min.", still.The(Catalogue.NodeRestarted, 5).Why);

        ComparisonReport added = Compare(before, Side(1, Finding(Catalogue.DuplicateAddress, 7)));
        Assert.Equal(ComparisonReport.Worse, added.Verdict);
        Assert.False(added.IsGood());
        Assert.StartsWith("Worse. New: two devices on the address of node 7. Gone:", added.Sentence, StringComparison.Ordinal);
    }

    [Fact]
    public void WithoutTroubleBeforeItIsNoWorse()
    {
        ComparisonReport comparison = Compare(Side(1, Finding(Catalogue.NodeReplaced, 4)), Side(0.2));
        Assert.Equal(ComparisonReport.NoWorse, comparison.Verdict);
        Assert.True(comparison.IsGood());
    }

    [Fact]
    public void WhoListensForLessThanTwoMinutesFindsNothingNew()
    {
        Assert.Equal(ComparisonReport.CannotTell, Compare(Side(1), Side(119.0 / 3600)).Verdict);
        Assert.Equal(ComparisonReport.NoWorse, Compare(Side(1), Side(121.0 / 3600)).Verdict);
    }

    [Fact]
    public void WithoutOneDeviceRecognisedNothingCanBeTold()
    {
        ComparisonReport comparison = Compare(Side(1), Of("a", 1, Bus(1) with { Nodes = [] }));
        Assert.Equal(ComparisonReport.CannotTell, comparison.Verdict);
        Assert.Equal("Can't tell: not one device was recognised on can0 after, though 14 were before.", comparison.Sentence);
        Assert.Contains(comparison.Limits, limit => limit.StartsWith("No device was recognised after, so whether both records are of one bus isn't known", StringComparison.Ordinal));

        ComparisonReport other = Compare(Of("b", 1, Bus(1) with { Nodes = [] }), Side(1));
        Assert.Equal(ComparisonReport.CannotTell, other.Verdict);
        Assert.Equal("Can't tell: not one device was recognised on can0 before, though 14 were after.", other.Sentence);
        Assert.False(other.IsGood());
    }

    /// <summary>Two bundles of one log, the later one longer.</summary>
    [Fact]
    public void RecordsThatOverlapSaySo()
    {
        ObservedPeriod before = Side(2);
        ObservedPeriod after = Side(4) with { Start = before.Start, End = before.Start + TimeSpan.FromHours(4) };
        Assert.Contains(Compare(before with { End = before.Start + TimeSpan.FromHours(2) }, after).Limits, limit => limit.StartsWith("The two records overlap by 2 h", StringComparison.Ordinal));
        Assert.DoesNotContain(Compare(before with { End = before.Start }, after with { Start = before.Start + TimeSpan.FromSeconds(1) }).Limits, limit => limit.Contains("overlap", StringComparison.Ordinal));
    }

    [Fact]
    public void ANoteIsNoTroubleUnlessItGrows()
    {
        ComparisonReport replaced = Compare(Side(1), Side(1, Finding(Catalogue.NodeReplaced, 4), Finding(Catalogue.BusRestarted, nodes: [1, 2, 3])));
        Assert.Equal(ComparisonReport.NoWorse, replaced.Verdict);
        Assert.Equal(ComparedFinding.New, replaced.The(Catalogue.NodeReplaced, 4).Outcome);

        ComparisonReport grown = Compare(Side(1, Finding(Catalogue.BusRestarted, nodes: [1, 2, 3])), Side(1, Finding(Catalogue.BusRestarted, nodes: [4, 5, 6], severity: "warning")));
        Assert.Equal(ComparisonReport.NotFixed, grown.Verdict);
        Assert.EndsWith("It was a note and is a warning now.", grown.The(Catalogue.BusRestarted).Why, StringComparison.Ordinal);

        ComparisonReport shrunk = Compare(Side(1, Finding(Catalogue.BusRestarted, severity: "warning")), Side(1, Finding(Catalogue.BusRestarted)));
        Assert.Equal(ComparisonReport.NoWorse, shrunk.Verdict);
        Assert.StartsWith("No worse: what was wrong before is only worth a note now", shrunk.Sentence, StringComparison.Ordinal);
        Assert.EndsWith("It was a warning and is only a note now.", shrunk.The(Catalogue.BusRestarted).Why, StringComparison.Ordinal);
    }

    /// <summary>A weak supply takes other neighbours along each time.</summary>
    [Fact]
    public void TheSameFaultOnSomeOfTheSameNodesIsTheSame()
    {
        ObservedPeriod before = Side(1, Finding(Catalogue.NodeRestarted, nodes: [2, 3, 4]));
        Assert.Equal(ComparisonReport.NotFixed, Compare(before, Side(1, Finding(Catalogue.NodeRestarted, nodes: [3, 4]), Finding(Catalogue.NodeRestarted, 2))).Verdict);
        Assert.Equal(ComparisonReport.Worse, Compare(before, Side(1, Finding(Catalogue.NodeRestarted, nodes: [5, 6]))).Verdict);
        Assert.Equal(ComparedFinding.New, Outcome(Side(1, Finding(Catalogue.InputChatter, 5, input: 1)), Side(1, Finding(Catalogue.InputChatter, 6, input: 1)), Catalogue.InputChatter, 6));
        ComparisonReport other = Compare(Side(1, Finding(Catalogue.InputChatter, 5, input: 1)), Side(1, Finding(Catalogue.InputChatter, 5, input: 2)));
        Assert.Equal([ComparedFinding.New, ComparedFinding.NotSeenAgain], other.Findings.Select(finding => finding.Outcome));
    }

    [Fact]
    public void ANodeThatIsNotThereIsNotFixed()
    {
        ObservedPeriod before = Side(1, Finding(Catalogue.NodeErrors, 9, lasts: true));
        ComparisonReport gone = Compare(before, Of("a", 5, Without(Bus(5), 9)));
        Assert.Equal(ComparedFinding.CannotTell, gone.The(Catalogue.NodeErrors, 9).Outcome);
        Assert.Equal(new ComparedNode("can0", 9, "café dimmers", ComparedNode.Missing), Assert.Single(gone.Nodes));
        Assert.Equal(ComparisonReport.Worse, gone.Verdict);
        Assert.Contains("silence of node 9 “café dimmers”", gone.Sentence, StringComparison.Ordinal);
    }

    [Fact]
    public void ANodeThatStaysSilentIsStillSilent()
    {
        ObservedBus silent = With(Bus(1), 13, node => node with { IsPresent = false });
        ObservedPeriod before = Of("b", 1, silent, Finding(Catalogue.NodeSilent, 13, lasts: true, noticedSeconds: 3.5));
        ComparisonReport comparison = Compare(before, Of("a", 1, Without(Bus(1), 13)));
        Assert.Equal(ComparedFinding.StillThere, comparison.The(Catalogue.NodeSilent, 13).Outcome);
        Assert.Equal(ComparisonReport.NotFixed, comparison.Verdict);
        Assert.Empty(comparison.Nodes);

        // It would not have been heard in so short a time.
        Assert.Equal(ComparedFinding.CannotTell, Outcome(before, Of("a", 1, Without(Bus(3.0 / 3600), 13)), Catalogue.NodeSilent, 13));
    }

    [Fact]
    public void ANodeThatSendsNothingRegularlyIsToldAndNotMissed()
    {
        ObservedBus before = With(Bus(1), 3, node => node with { SilenceNoticedWithinSeconds = null, IsPresent = null });
        ComparisonReport comparison = Compare(Of("b", 1, before), Of("a", 1, Without(Bus(1), 3)));
        Assert.Equal(ComparedNode.NotHeard, Assert.Single(comparison.Nodes).Change);
        Assert.Equal(ComparisonReport.NoWorse, comparison.Verdict);
        Assert.EndsWith("Not heard after, and not known to send regularly: node 3.", comparison.Sentence, StringComparison.Ordinal);
    }

    [Fact]
    public void WithoutAnyTrafficNothingCanBeTold()
    {
        ObservedBus deaf = Without(Bus(1), [.. Enumerable.Range(1, 14)]) with { Totals = new(3600, 0, 0, null, 0) };
        ObservedPeriod before = Side(1, Finding(Catalogue.NodeErrors, 9, lasts: true));
        ComparisonReport comparison = Compare(before, Of("a", 1, deaf, Finding(Catalogue.NoTraffic, lasts: true)));
        Assert.Equal(ComparisonReport.CannotTell, comparison.Verdict);
        Assert.StartsWith("Can't tell: nothing was heard after.", comparison.Sentence, StringComparison.Ordinal);
        Assert.Equal(ComparedFinding.CannotTell, comparison.The(Catalogue.NodeErrors, 9).Outcome);
        Assert.Empty(comparison.Nodes);
        Assert.Equal(ComparisonReport.CannotTell, Compare(before, new("trace", "a", null, null, [], [])).Verdict);
        Assert.StartsWith("Can't tell: nothing was heard before", Compare(new("trace", "b", null, null, [], []), Side(1)).Sentence, StringComparison.Ordinal);

        // A bus that was dead and lives again is the other way round.
        ComparisonReport alive = Compare(Of("b", 1, deaf, Finding(Catalogue.NoTraffic, lasts: true, noticedSeconds: 10)), Side(1));
        Assert.Equal(ComparisonReport.Fixed, alive.Verdict);
    }

    [Fact]
    public void ErrorsThatCouldNotBeSeenAreNotGone()
    {
        ObservedPeriod before = Of("b", 1, WithErrors(Bus(1), 40), Finding(Catalogue.ErrorRate, lasts: true), Finding(Catalogue.ErrorBurst));
        ObservedPeriod untold = Of("a", 24, WithErrors(Bus(24), null) with { ErrorReporting = null });
        ComparisonReport comparison = Compare(before, untold);
        Assert.All(comparison.Findings, finding => Assert.Equal(ComparedFinding.CannotTell, finding.Outcome));
        Assert.Contains("Errors on the wire couldn't be seen after, so they aren't compared.", comparison.Limits);
        Assert.DoesNotContain(comparison.Rates, rate => rate.Of == "errors");

        // The same adapter would have told.
        Assert.Equal(ComparisonReport.Fixed, Compare(before, untold, sameRecorder: true).Verdict);

        // An adapter that can't tell doesn't learn it by that.
        ObservedPeriod unable = Of("a", 24, WithErrors(Bus(24), null) with { ErrorReporting = false });
        Assert.Equal(ComparisonReport.CannotTell, Compare(before, unable, sameRecorder: true).Verdict);
    }

    [Theory]
    [InlineData("warning", ComparisonReport.CannotTell)]
    [InlineData("note", ComparisonReport.Fixed)]
    public void WhereMuchWasLostAbsenceProvesNothing(string severity, string verdict)
    {
        ObservedPeriod before = Side(1, Finding(Catalogue.NodeSilent, 13, lasts: true));
        ComparisonReport comparison = Compare(before, Side(1, Finding(Catalogue.BusNotSeen, severity: severity)));
        Assert.Equal(verdict, comparison.Verdict);
        Assert.DoesNotContain(comparison.Findings, finding => finding.Finding == Catalogue.BusNotSeen.Name);
        Assert.Equal(ComparisonReport.CannotTell, Compare(before, Side(1) with { FindingsRefused = true }).Verdict);
    }

    [Fact]
    public void AFaultThatANodeReportedItselfIsNotGoneByItsSilence()
    {
        ObservedPeriod before = Side(1, Finding(Catalogue.ReportsFault, 12, lasts: true, noticedSeconds: 0));
        Assert.Equal(ComparedFinding.CannotTell, Outcome(before, Side(100), Catalogue.ReportsFault, 12));
        ObservedPeriod restarted = Of("a", 1, With(Bus(1), 12, node => node with { Restarts = 1 }));
        Assert.Equal(ComparedFinding.Gone, Outcome(before, restarted, Catalogue.ReportsFault, 12));
    }

    [Fact]
    public void AnInputWhoseNodeReportedNoneCanNotBeTold()
    {
        ObservedPeriod before = Side(1, Finding(Catalogue.InputChatter, 5, input: 1, began: 20));
        ObservedBus resting = Bus(10) with { Identifiers = [new("0x705", 36_000, 1, 0, 0.1, 5), new("0x085", 1, null, null, 0, 5), new("0x585", 4, null, null, 0, 5)] };
        Assert.Equal(ComparedFinding.CannotTell, Outcome(before, Of("a", 10, resting), Catalogue.InputChatter, 5));
        ObservedBus used = resting with { Identifiers = [.. resting.Identifiers!, new("0x185", 40, null, null, 0.1, 5)] };
        ComparisonReport comparison = Compare(before, Of("a", 10, used));
        Assert.Equal(ComparedFinding.Gone, comparison.The(Catalogue.InputChatter, 5).Outcome);
        Assert.Contains("if it was used as before", comparison.The(Catalogue.InputChatter, 5).Why, StringComparison.Ordinal);
    }

    [Fact]
    public void ACyclicIdentifierOfAnUnknownProtocolIsFollowedByItself()
    {
        ObservedBus before = Without(Bus(1), [.. Enumerable.Range(1, 14)]) with { Identifiers = [new("0x100", 900, 1, 0, 0.5, null), new("0x101", 900, 1, 0, 0.5, null)] };
        ObservedPeriod earlier = Of("b", 1, before, Finding(Catalogue.NodeSilent, id: "0x101", lasts: true, noticedSeconds: 4));
        Assert.Equal(ComparedFinding.Gone, Outcome(earlier, Of("a", 1, before), Catalogue.NodeSilent));
        Assert.Equal(ComparedFinding.StillThere, Outcome(earlier, Of("a", 1, before with { Identifiers = [before.Identifiers![0]] }), Catalogue.NodeSilent));
        Assert.Equal(ComparedFinding.CannotTell, Outcome(earlier, Of("a", 1, before with { Identifiers = null }), Catalogue.NodeSilent));
    }

    [Fact]
    public void WhatFollowsFromAnotherIsToldWithIt()
    {
        ObservedFinding leader = Finding(Catalogue.NodeErrors, 9, lasts: true);
        ObservedFinding follower = Finding(Catalogue.ErrorRate, lasts: true, severity: "fault");
        follower = follower with { Report = follower.Report with { ExplainedBy = leader.Report.Key } };
        ComparisonReport comparison = Compare(Side(1), Side(1, follower, leader));
        Assert.Equal("Worse. New: damaged frames of node 9 “café dimmers”.", comparison.Sentence);
        ComparedFinding told = comparison.The(Catalogue.ErrorRate);
        Assert.Equal(Catalogue.NodeErrors.Name, comparison.Findings[told.ExplainedBy!.Value].Finding);

        // Where its leader is gone it stands for itself.
        ObservedPeriod before = Of("b", 1, WithErrors(With(Bus(1), 9, node => node with { Errors = 60 }), 60), leader, follower);
        ComparisonReport half = Compare(before, Of("a", 1, WithErrors(Bus(1), 40), follower));
        Assert.Equal(ComparisonReport.NotFixed, half.Verdict);
        Assert.Contains("Still there: errors on the bus.", half.Sentence, StringComparison.Ordinal);
        Assert.Null(half.The(Catalogue.ErrorRate).ExplainedBy);
    }

    private static ObservedFinding Carried(FindingKind kind, int? node = null, double? lastSeconds = null, double? endSeconds = null)
    {
        ObservedFinding finding = Finding(kind, node, began: 0, lasts: endSeconds is null);
        return finding with
        {
            Report = finding.Report with
            {
                End = endSeconds is double end ? Monday + TimeSpan.FromSeconds(end) : null,
                Evidence = lastSeconds is double last ? [new(Monday + TimeSpan.FromSeconds(last), "again")] : [],
            },
        };
    }

    /// <summary>A log carries an episode over the cut, as its detector holds it open for a while (here 30 min and 60 min) behind the last sign of it.</summary>
    [Theory]
    [InlineData(29, null, ComparedFinding.NotSeenAgain)]
    [InlineData(31, null, ComparedFinding.StillThere)]
    [InlineData(29, 60.0, ComparedFinding.StillThere)]
    [InlineData(29, -60.0, ComparedFinding.NotSeenAgain)]
    public void WhatIsOnlyHeldOpenIsNotStillThere(double minutes, double? lastSeconds, string outcome)
    {
        // Errors came, but on whose frames a log doesn't count.
        ObservedBus bus = WithErrors(Bus(minutes / 60), 2) with { Nodes = [.. Bus(1).Nodes.Select(node => node with { Frames = null, Errors = null })] };
        ObservedPeriod before = Side(5, Finding(Catalogue.NodeErrors, 9, lasts: true));
        ComparedFinding finding = Compare(before, Of("a", minutes / 60, bus, Carried(Catalogue.NodeErrors, 9, lastSeconds))).The(Catalogue.NodeErrors, 9);
        Assert.Equal(outcome, finding.Outcome);
        Assert.Equal(outcome == ComparedFinding.NotSeenAgain ? 60 : null, finding.MoreSeconds);
    }

    [Fact]
    public void ARatioThatStaysHighBehindTheLastErrorIsJudgedByItsCounts()
    {
        ObservedPeriod before = Of("b", 1, WithErrors(Bus(1), 40), Finding(Catalogue.ErrorRate, lasts: true));
        Assert.Equal(ComparedFinding.Gone, Outcome(before, Of("a", 1, Bus(1), Carried(Catalogue.ErrorRate)), Catalogue.ErrorRate));
        Assert.Equal(ComparedFinding.NotSeenAgain, Outcome(before, Of("a", 0.1, Bus(0.1), Carried(Catalogue.ErrorRate)), Catalogue.ErrorRate));
        Assert.Equal(ComparedFinding.StillThere, Outcome(before, Of("a", 1, WithErrors(Bus(1), 35), Carried(Catalogue.ErrorRate)), Catalogue.ErrorRate));
    }

    [Fact]
    public void WhatIsHeldToBeSoUntilItWasSeenCleanCanNotBeTold()
    {
        ObservedPeriod before = Side(5, Finding(Catalogue.InputChatter, 5, lasts: true));
        Assert.Equal(ComparedFinding.CannotTell, Outcome(before, Side(100, Carried(Catalogue.InputChatter, 5)), Catalogue.InputChatter, 5));

        // Silence is no such thing: it is so at this moment.
        Assert.Equal(ComparedFinding.StillThere, Outcome(Side(5, Finding(Catalogue.NodeSilent, 5, lasts: true)), Side(0.1, Carried(Catalogue.NodeSilent, 5)), Catalogue.NodeSilent, 5));
    }

    [Fact]
    public void WhatEndedJustBehindTheCutSaysSo()
    {
        ComparisonReport comparison = Compare(Side(5, Finding(Catalogue.NodeSilent, 5, lasts: true)), Side(1, Carried(Catalogue.NodeSilent, 5, endSeconds: 42)));
        Assert.Equal(ComparedFinding.StillThere, comparison.The(Catalogue.NodeSilent, 5).Outcome);
        Assert.EndsWith("after: what had begun before, last 42 s behind the cut.", comparison.The(Catalogue.NodeSilent, 5).Why, StringComparison.Ordinal);
    }

    [Fact]
    public void MoreErrorsBeyondChanceAreWorseThoughNoFindingSaysSo()
    {
        ComparisonReport more = Compare(Of("b", 1, WithErrors(Bus(1), 3)), Of("a", 1, WithErrors(Bus(1), 20)));
        Assert.Equal(ComparisonReport.Worse, more.Verdict);
        ComparedRate rate = Assert.Single(more.Rates, rate => rate.Of == "errors");
        Assert.Equal(ComparedRate.Higher, rate.Change);
        Assert.Equal(20 / 3.0, rate.Ratio!.Value, 1e-9);
        Assert.Equal(20 / 2_400_000.0, rate.After.Rate, 1e-12);
        Assert.Equal("Worse. More than before, beyond chance: disturbances.", more.Sentence);

        ComparisonReport chance = Compare(Of("b", 1, WithErrors(Bus(1), 3)), Of("a", 1, WithErrors(Bus(1), 8)));
        Assert.Equal(ComparisonReport.NoWorse, chance.Verdict);
        ComparisonReport fewer = Compare(Of("b", 1, WithErrors(Bus(1), 20)), Of("a", 1, WithErrors(Bus(1), 3)));
        Assert.Equal(ComparedRate.Lower, fewer.Rates.Single(rate => rate.Of == "errors").Change);
    }

    /// <summary>Twelve nodes of the same look: each at 2.5 % would be "more" somewhere in a quarter of all comparisons.</summary>
    [Fact]
    public void SeveralLooksAreCorrected()
    {
        ObservedBus before = Bus(1) with { Nodes = [.. Bus(1).Nodes.Select(node => node with { Errors = 1 })] };
        ObservedBus after = Bus(1) with { Nodes = [.. Bus(1).Nodes.Select(node => node with { Errors = node.Address == 9 ? 9 : 1 })] };
        ComparisonReport comparison = Compare(Of("b", 1, WithErrors(before, 14)), Of("a", 1, WithErrors(after, 22)));
        ComparedRate nine = comparison.Rates.Single(rate => rate.Node == 9);
        Assert.InRange(nine.Probability!.Value, 0.01, 0.05);
        Assert.InRange(nine.ProbabilityCorrected!.Value, 0.2, 0.4);
        Assert.Equal(ComparedRate.Chance, nine.Change);
        Assert.Equal(ComparisonReport.NoWorse, comparison.Verdict);
    }

    /// <summary>Holm's procedure on four probabilities: 0.01·4, 0.02·3, then 0.03·2 = 0.06 and 0.04·1 raised to 0.06 (worked by hand from the definition, S. Holm 1979).</summary>
    [Fact]
    public void HolmIsFollowed()
    {
        RateSide side = new(1, 1, 1, 0, 6);
        ComparedRate Rate(double? probability) => new() { Of = "errors", What = "x", Interface = "can0", Unit = "bit", Before = side, After = side, Probability = probability, Change = ComparedRate.Chance };
        double?[] corrected = [.. RateComparer.Corrected([Rate(0.04), Rate(null), Rate(0.01), Rate(0.03), Rate(0.02)]).Select(rate => rate.ProbabilityCorrected)];
        Assert.Equal(0.06, corrected[0]!.Value, 1e-12);
        Assert.Null(corrected[1]);
        Assert.Equal(0.04, corrected[2]!.Value, 1e-12);
        Assert.Equal(0.06, corrected[3]!.Value, 1e-12);
        Assert.Equal(0.06, corrected[4]!.Value, 1e-12);
    }

    [Fact]
    public void EpisodesOfWhatIsStillThereAreCompared()
    {
        ComparisonReport comparison = Compare(Side(10, Finding(Catalogue.NodeRestarted, 5, began: 4)), Side(10, Finding(Catalogue.NodeRestarted, 5, began: 30)));
        ComparedRate rate = comparison.Rates.Single(rate => rate.Of == Catalogue.NodeRestarted.Name);
        Assert.Equal(ComparedRate.Higher, rate.Change);
        Assert.Equal("Not fixed, and worse. Still there: restarts that nobody commanded of node 5. More than before, beyond chance: restarts that nobody commanded of node 5.", comparison.Sentence);
    }

    /// <summary>Errors that began in the last half hour of ten are as many an hour as ever, though ten times as many as over all of that side.</summary>
    [Fact]
    public void WhatBeganLateDidNotGetWorseByThat()
    {
        ObservedFinding late = Finding(Catalogue.ErrorRate, lasts: true);
        late = late with { First = Monday + TimeSpan.FromHours(9.5) };
        ObservedPeriod after = Of("a", 10, WithErrors(Bus(10), 800), Finding(Catalogue.ErrorRate, lasts: true));
        ComparisonReport comparison = Compare(Of("b", 10, WithErrors(Bus(10), 40), late), after);
        Assert.Equal("Not fixed. Still there: errors on the bus.", comparison.Sentence);
        Assert.Equal("this trouble began late in the earlier side", comparison.Rates.Single(rate => rate.Of == "errors").NotJudgedBecause);
        Assert.Equal(ComparisonReport.Worse, Compare(Of("b", 10, WithErrors(Bus(10), 40), Finding(Catalogue.ErrorRate, lasts: true)), after).Verdict);
    }

    /// <summary>A site that gets its power back restarts as a whole: fourteen restarts, one event, nobody's fault.</summary>
    [Fact]
    public void RestartsNobodyIsAccusedOfAreShownOnly()
    {
        ObservedBus restarted = Bus(1) with { Totals = Bus(1).Totals with { Restarts = 14 } };
        ComparisonReport powered = Compare(Side(1), Of("a", 1, restarted, Finding(Catalogue.BusRestarted)));
        ComparedRate rate = powered.Rates.Single(rate => rate.Of == "restarts");
        Assert.Equal((ComparedRate.Higher, "no finding accuses anybody of them"), (rate.Change, rate.NotJudgedBecause));
        Assert.Equal(ComparisonReport.NoWorse, powered.Verdict);
        Assert.Equal(ComparisonReport.Worse, Compare(Side(1, Finding(Catalogue.NodeRestarted, 5)), Of("a", 1, restarted, Finding(Catalogue.NodeRestarted, 5, began: 14))).Verdict);
    }

    [Fact]
    public void WhatIsNewSaysWhetherItMayHaveBeenThere()
    {
        Assert.Contains("not once in the 60 min before, which is too short to rule out chance", Compare(Side(1), Side(1, Finding(Catalogue.NodeRestarted, 5))).The(Catalogue.NodeRestarted, 5).Why, StringComparison.Ordinal);
        Assert.Contains("not once in the 20 h before", Compare(Side(20), Side(1, Finding(Catalogue.NodeRestarted, 5))).The(Catalogue.NodeRestarted, 5).Why, StringComparison.Ordinal);
    }

    [Fact]
    public void OneInterfaceOnEachSideIsTheSameBusWhateverItIsCalled()
    {
        ObservedPeriod after = Of("a", 1, Bus(1, "slcan3"), Finding(Catalogue.NodeRestarted, 5, name: "slcan3"));
        ComparisonReport comparison = Compare(Side(1, Finding(Catalogue.NodeRestarted, 5)), after);
        Assert.Equal(ComparedFinding.StillThere, comparison.The(Catalogue.NodeRestarted, 5).Outcome);
        Assert.Contains("can0 before and slcan3 after are taken for the same bus: each side has one.", comparison.Limits);
    }

    [Fact]
    public void SeveralInterfacesGoByName()
    {
        ObservedPeriod before = Side(1, Finding(Catalogue.NodeRestarted, 5), Finding(Catalogue.NodeRestarted, 5, name: "can1")) with { Buses = [Bus(1), Bus(1, "can1")] };
        ComparisonReport comparison = Compare(before, Side(40) with { Buses = [Bus(40, "can1"), Bus(40, "can2")] });
        Assert.Equal([(ComparedFinding.CannotTell, "can0"), (ComparedFinding.Gone, "can1")], comparison.Findings.Select(finding => (finding.Outcome, finding.Interface!)));
        Assert.Contains("on can1", comparison.Findings[1].What, StringComparison.Ordinal);
        Assert.Contains("can2 was listened to on one side only.", comparison.Limits);
        Assert.Null(Comparer.Mismatch(before, Side(1) with { Buses = [Bus(1, "can1")] }));
        Assert.Contains("no interface in common (can0, can1; can7)", Comparer.Mismatch(before, Side(1) with { Buses = [Bus(1, "can7")] }), StringComparison.Ordinal);
    }

    [Fact]
    public void AnotherSiteIsRefused()
    {
        Assert.Null(Comparer.Mismatch(Side(1), Side(1)));
        ObservedPeriod other = Of("a", 1, Bus(1) with { Nodes = [Node(21, 1), Node(22, 1)] });
        Assert.Equal("not one node is on both sides (before: 1, 2, 3, 4, 5, 6, 7, 8 …; after: 21, 22), so they aren't of the same site", Comparer.Mismatch(Side(1), other));
        Assert.Null(Comparer.Mismatch(Side(1), Of("a", 1, Bus(1) with { Nodes = [Node(21, 1), Node(1, 1)] })));
        Assert.Null(Comparer.Mismatch(Side(1), Of("a", 1, Bus(1) with { Nodes = [] })));
        ObservedBus Serials(int known, string ending) => Bus(1) with { Nodes = [.. Bus(1).Nodes.Select(node => node.Address <= known ? node with { Serial = node.Address + ending } : node)] };
        Assert.Contains("all 3 serial numbers", Comparer.Mismatch(Of("b", 1, Serials(3, "a")), Of("a", 1, Serials(3, "b"))), StringComparison.Ordinal);
        Assert.Null(Comparer.Mismatch(Of("b", 1, Serials(2, "a")), Of("a", 1, Serials(2, "b"))));
        Assert.Null(Comparer.Mismatch(Of("b", 1, Serials(5, "a")), Of("a", 1, With(Serials(5, "b"), 4, node => node with { Serial = "4a" }))));
        ObservedBus Unknown(string id) => Bus(1) with { Nodes = [], Identifiers = [new(id, 900, 1, 0, 0.5, null)] };
        Assert.Contains("not one identifier", Comparer.Mismatch(Of("b", 1, Unknown("0x100")), Of("a", 1, Unknown("0x200"))), StringComparison.Ordinal);
        Assert.Null(Comparer.Mismatch(Of("b", 1, Unknown("0x100")), Of("a", 1, Unknown("0x100"))));
    }

    [Fact]
    public void EveryFindingOfTheCatalogueHasItsWords() => Assert.All(Catalogue.All, kind => Assert.True(Phrases.Knows(kind.Name), kind.Name));

    [Fact]
    public void AFindingOfALaterVersionGoesByItsName()
    {
        FindingKind later = new("cable.moody", Severity.Fault, "x", "node");
        Assert.Equal("cable.moody of node 4", Compare(Side(1), Side(1, Finding(later, 4))).The(later, 4).What);
    }

    /// <summary>
    /// Nothing was repaired: how often is something called gone by chance? Summed over all numbers of episodes for every rate, not drawn. Rare faults that happened to show once before are
    /// the worst case.
    /// </summary>
    [Theory]
    [InlineData(0.5)]
    [InlineData(1.8)]
    [InlineData(19.5)]
    public void WhatWasNotRepairedIsSeldomCalledGone(double timesAsLong)
    {
        const int Most = 40;
        bool[] isGone = [.. Enumerable.Range(0, Most).Select(episodes =>
            episodes > 0 && Outcome(Side(10, Finding(Catalogue.NodeRestarted, 5, episodes)), Side(10 * timesAsLong), Catalogue.NodeRestarted, 5) == ComparedFinding.Gone)];
        Assert.Contains(true, isGone);
        for (double mean = 0.01; mean < 20; mean *= 1.2)
        {
            double wrong = 0;
            double probability = Math.Exp(-mean);
            for (int episodes = 0; episodes < Most; episodes++)
            {
                wrong += isGone[episodes] ? probability * Math.Exp(-mean * timesAsLong) : 0;
                probability *= mean / (episodes + 1);
            }

            Assert.InRange(wrong, 0, 0.05);
        }
    }
}
