using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Soak;
using Diagnostics.Tests.Pages;

namespace Diagnostics.Tests.Soak;

/// <summary>What a soak test counts, and what it may say about it.</summary>
public sealed class SoakTests
{
    private static readonly Instant Friday = Instant.FromDateTime(new DateTimeOffset(2026, 11, 20, 17, 0, 0, TimeSpan.Zero));

    private static readonly TimeSpan Weekend = TimeSpan.FromHours(62);

    /// <summary>A bus of 125 kbit/s at 30 % load, so many hours after the start of the run.</summary>
    private static Report At(double hours, long? errors = 0, int restarts = 0, double? heardHours = null, params FindingReport[] findings)
    {
        Report quiet = SampleReports.Quiet();
        double heard = (heardHours ?? hours) * 3600;
        return quiet with
        {
            Source = quiet.Source with { Start = Friday, End = Friday + TimeSpan.FromHours(hours), NotSeen = new(0, 0, 0, []) },
            Buses =
            [
                quiet.Buses[0] with
                {
                    Frames = (long)(heard * 300),
                    HeardSeconds = heard,
                    BitsHeard = heard * 125_000 * 0.3,
                    ErrorEpisodes = errors,
                    Nodes = [quiet.Buses[0].Nodes[0] with { RestartsUnexplained = restarts }],
                },
            ],
            Findings = findings,
        };
    }

    private static FindingReport Finding(string severity = "fault", int count = 1, bool isOver = false) => SampleReports.Rich().Findings[0] with
    {
        Key = "node.silent/can0/node-5",
        Finding = "node.silent",
        Severity = severity,
        Count = count,
        Start = Friday + TimeSpan.FromHours(1),
        Raised = Friday + TimeSpan.FromHours(1),
        End = isOver ? Friday + TimeSpan.FromHours(2) : null,
    };

    private static SoakTest Begin(Report report, SoakRules? rules = null, TimeSpan? asked = null) =>
        SoakTest.Begin("20261120-170000", "weekend", asked ?? Weekend, rules ?? new(), report, TimeSpan.Zero);

    private static SoakVerdict Run(SoakRules rules, params Report[] reports)
    {
        SoakTest test = Begin(At(0), rules);
        foreach (Report report in reports)
        {
            test.OnSnapshot(report, TimeSpan.Zero);
        }

        return SoakVerdict.Of(test.Record);
    }

    /// <summary>Who fell silent before is known to the service, and was not heard in the test; who comes in it was.</summary>
    [Fact]
    public void ANodeThatWasSilentAllTheTimeIsNotAmongThoseThatWereHeard()
    {
        Report With(double hours, double thirteenHeard) => At(hours) is var report
            ? report with { Buses = [report.Buses[0] with { Nodes = [Node(report, 4, hours), Node(report, 13, thirteenHeard)] }] }
            : throw new InvalidOperationException();
        SoakTest test = Begin(With(10, 2));
        test.OnSnapshot(With(12, 2), TimeSpan.Zero);
        SoakBus bus = Assert.Single(test.Record.Buses);
        Assert.Equal(4, Assert.Single(bus.Nodes).Address);
        Assert.Equal(13, Assert.Single(bus.NotHeard!).Address);
        test.OnSnapshot(With(14, 13), TimeSpan.Zero);
        bus = Assert.Single(test.Record.Buses);
        Assert.Equal([4, 13], bus.Nodes.Select(node => node.Address));
        Assert.Empty(bus.NotHeard!);

        static NodeReport Node(Report report, int address, double heardAtHour) =>
            report.Buses[0].Nodes[0] with { Address = address, LastHeard = Friday + TimeSpan.FromHours(heardAtHour) };
    }

    /// <summary>
    /// 3/n for no error, 4.74/n for one, 10.5/n for five: F. Garwood, Biometrika 28 (1936), one-sided 95 %; 60 h at 125 kbit/s and 30 % bound the ratio at 3.7e-10, 8 h at 2.8e-9,
    /// a weekend at 20 kbit/s and 10 % at 6.9e-9.
    /// </summary>
    [Theory]
    [InlineData(60, 125_000, 0.3, 0, 3.7e-10)]
    [InlineData(8, 125_000, 0.3, 0, 2.8e-9)]
    [InlineData(60, 20_000, 0.1, 0, 6.9e-9)]
    [InlineData(60, 125_000, 0.3, 1, 4.744 / 8.1e9)]
    [InlineData(60, 125_000, 0.3, 5, 10.513 / 8.1e9)]
    public void CleanHoursProveAnErrorRatioBelowTheExactBound(double hours, int bitRate, double load, long errors, double bound)
    {
        double bits = hours * 3600 * bitRate * load;
        SoakRecord record = Begin(At(0)).Record with { Buses = [new("can0", bitRate, new(hours * 3600, 1, bits, errors, 0), [])] };
        SoakErrors shown = Assert.Single(SoakVerdict.Of(record).Errors);
        Assert.InRange(shown.Below!.Value / bound, 0.98, 1.02);
    }

    [Fact]
    public void AWholeCleanWeekendPassesAndEndsByItself()
    {
        SoakTest test = Begin(At(3));
        test.OnSnapshot(At(64), TimeSpan.Zero);
        Assert.Equal(SoakOutcome.SoFarGood, SoakVerdict.Of(test.Record).Outcome);
        test.OnSnapshot(At(65), TimeSpan.Zero);
        Assert.Equal(SoakEnd.Complete, test.Record.End);
        Assert.Equal(SoakOutcome.Passed, SoakVerdict.Of(test.Record).Outcome);

        // Only what came since its beginning: 62 of 65 hours.
        Assert.Equal(62 * 3600.0, test.Record.ListenedSeconds);
        Assert.Equal(62 * 3600.0 * 125_000 * 0.3, Assert.Single(test.Record.Buses).Totals.Bits!.Value, 1.0);

        // What comes later is no part of it.
        SoakRecord ended = test.Record;
        test.OnSnapshot(At(66, restarts: 9, findings: Finding()), TimeSpan.Zero);
        Assert.Same(ended, test.Record);
    }

    [Theory]
    [InlineData("fault", true)]
    [InlineData("warning", true)]
    [InlineData("note", false)]
    public void FaultsAndWarningsFailItAndNotesDoNot(string severity, bool fails) =>
        Assert.Equal(fails ? SoakOutcome.Failed : SoakOutcome.Passed, Run(new(), At(5, findings: Finding(severity)), At(62, findings: Finding(severity, isOver: true))).Outcome);

    [Fact]
    public void TheRulesSayWhichFindingsFailIt()
    {
        Report open = At(62, findings: Finding("warning"));
        Assert.Equal(SoakOutcome.Passed, Run(new() { Fails = ["fault"] }, open).Outcome);
        Assert.Equal(SoakOutcome.Failed, Run(new() { Fails = ["fault", "node.silent"] }, open).Outcome);
        Assert.Contains("node.duplicate-address", SoakRules.KnownWords);
        Assert.Contains("warning", SoakRules.KnownWords);
    }

    [Fact]
    public void WhatWasOverBeforeItDoesNotCountAndWhatIsStillOpenDoes()
    {
        SoakTest over = Begin(At(3, findings: Finding(count: 4, isOver: true)));
        over.OnSnapshot(At(65, findings: Finding(count: 4, isOver: true)), TimeSpan.Zero);
        Assert.Empty(over.Record.Findings);

        SoakTest open = Begin(At(3, findings: Finding(count: 4)));
        open.OnSnapshot(At(65, findings: Finding(count: 6)), TimeSpan.Zero);
        Assert.Equal(3, Assert.Single(open.Record.Findings).Episodes);
        SoakVerdict verdict = SoakVerdict.Of(open.Record);
        Assert.Equal(SoakOutcome.Failed, verdict.Outcome);

        // The finding's own numbers aren't those of the test, and its reader must not take them for it.
        Assert.EndsWith("That began before this test, and its numbers count from then.", Assert.Single(verdict.Reasons), StringComparison.Ordinal);
        Assert.DoesNotContain("began before", Assert.Single(Run(new(), At(62, findings: Finding())).Reasons), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(40, "40 s")]
    [InlineData(60, "1 min")]
    [InlineData(3599, "59 min")]
    [InlineData(3600 * 62.55, "62.5 h")]
    public void SpansAreNeverRoundedUp(double seconds, string told) => Assert.Equal(told, SoakVerdict.Hours(seconds).English);

    [Fact]
    public void RestartsThatNothingExplainsAreCountedAgainstTheRule()
    {
        Assert.Equal(SoakOutcome.Passed, Run(new() { MostRestarts = 2 }, At(62, restarts: 2)).Outcome);
        Assert.Equal(SoakOutcome.Failed, Run(new() { MostRestarts = 2 }, At(62, restarts: 3)).Outcome);
        Assert.Equal(SoakOutcome.Passed, Run(new() { MostRestarts = null }, At(62, restarts: 900)).Outcome);
        SoakTest later = Begin(At(1, restarts: 5));
        later.OnSnapshot(At(63, restarts: 5), TimeSpan.Zero);
        Assert.Equal(SoakOutcome.Passed, SoakVerdict.Of(later.Record).Outcome);
    }

    /// <summary>A production line's ratio over these bits makes 25.9 errors; the interval of 40 begins at 28.6, that of 30 at 20.2 (Garwood).</summary>
    [Fact]
    public void ErrorsFailItOnlyWhereTheIntervalLiesWhollyAbove()
    {
        Assert.Equal(SoakOutcome.Passed, Run(new(), At(62, errors: 30)).Outcome);
        Assert.Equal(SoakOutcome.Failed, Run(new(), At(62, errors: 40)).Outcome);
        Assert.Equal(SoakOutcome.Passed, Run(new() { MostErrorRatio = null }, At(62, errors: 40_000)).Outcome);
    }

    [Fact]
    public void ATestThatIsTooShortForItsRuleSaysHowLongItTakes()
    {
        SoakTest test = Begin(At(0), asked: TimeSpan.FromHours(1));
        test.OnSnapshot(At(1), TimeSpan.Zero);
        SoakVerdict verdict = SoakVerdict.Of(test.Record);
        Assert.Equal(SoakOutcome.Passed, verdict.Outcome);

        // -ln 0.05 / 3.1e-9 / (37,500 bit/s × 3,600 s/h).
        Assert.Equal(7.16, Assert.Single(verdict.Errors).HoursToProve!.Value, 0.01);
        Assert.Null(Assert.Single(Run(new(), At(62)).Errors).HoursToProve);
    }

    [Fact]
    public void WhatCannotBeToldIsNotPassed()
    {
        SoakTest stopped = Begin(At(0));
        stopped.OnSnapshot(At(61.9), TimeSpan.Zero);
        stopped.Close(SoakEnd.Stopped);
        Assert.Equal(SoakOutcome.CannotTell, SoakVerdict.Of(stopped.Record).Outcome);

        Assert.Equal(SoakOutcome.CannotTell, Run(new(), At(62, errors: null)).Outcome);
        Assert.Equal(SoakOutcome.Passed, Run(new() { MostErrorRatio = null }, At(62, errors: null)).Outcome);

        Report deaf = At(62);
        deaf = deaf with { Buses = [deaf.Buses[0] with { Frames = 0, BitsHeard = 0 }] };
        Assert.Equal(SoakOutcome.CannotTell, Run(new(), deaf).Outcome);

        Report lossy = At(62);
        lossy = lossy with { Source = lossy.Source with { NotSeen = new(lossy.Buses[0].Frames / 50, 0, 0, []) } };
        Assert.Equal(SoakOutcome.CannotTell, Run(new(), lossy).Outcome);

        // A broken rule stays broken, however little was heard.
        Assert.Equal(SoakOutcome.Failed, Run(new(), lossy with { Findings = [Finding()] }).Outcome);
    }

    [Fact]
    public void OnlyTimeThatWasHeardCounts()
    {
        SoakTest test = Begin(At(0));
        test.OnSnapshot(At(62, heardHours: 40), TimeSpan.Zero);
        Assert.Null(test.Record.End);
        Assert.Equal(40 * 3600.0, test.Record.ListenedSeconds);
    }

    [Fact]
    public void ItGoesOnAfterAPowerCutWithTheGapStated()
    {
        SoakTest first = Begin(At(2));
        first.OnSnapshot(At(22, errors: 1, findings: Finding("note", count: 2, isOver: true)), TimeSpan.Zero);

        // Six hours later the board is back; that run's totals begin at nothing. Its clock is two hours behind until it is told.
        SoakTest second = SoakTest.GoOn(first.Record);
        Report back = At(10, errors: 2, findings: Finding("note", count: 3));
        back = back with { Source = back.Source with { Start = Friday + TimeSpan.FromHours(20), End = Friday + TimeSpan.FromHours(30) } };
        second.OnSnapshot(back, TimeSpan.Zero);
        Assert.Null(Assert.Single(second.Record.Interruptions).To);
        second.OnSnapshot(back, TimeSpan.FromHours(8));
        Assert.Equal([new SoakInterruption(Friday + TimeSpan.FromHours(22), Friday + TimeSpan.FromHours(28))], second.Record.Interruptions);
        Assert.Equal(30 * 3600.0, second.Record.ListenedSeconds);
        Totals totals = Assert.Single(second.Record.Buses).Totals;
        Assert.Equal((30 * 3600.0, 3L), (totals.HeardSeconds, totals.ErrorEpisodes));
        Assert.Equal(2 + 3, Assert.Single(second.Record.Findings).Episodes);
        Assert.Equal(Friday + TimeSpan.FromHours(2), second.Record.Started);

        // And once more.
        SoakTest third = SoakTest.GoOn(second.Record);
        Report last = At(32);
        third.OnSnapshot(last with { Source = last.Source with { Start = Friday + TimeSpan.FromHours(50), End = Friday + TimeSpan.FromHours(82) } }, TimeSpan.Zero);
        Assert.Equal(2, third.Record.Interruptions.Count);
        Assert.Equal(SoakEnd.Complete, third.Record.End);
        Assert.Equal(SoakOutcome.Passed, SoakVerdict.Of(third.Record).Outcome);
    }

    [Fact]
    public void AListOfFindingsThatIsFullFailsTheTestInsteadOfForgetting()
    {
        FindingReport[] many = [.. Enumerable.Range(0, SoakTest.MostFindings + 1).Select(number => Finding("note") with { Key = $"note-{number}" })];
        SoakVerdict verdict = Run(new(), At(62, findings: many));
        Assert.Equal(SoakOutcome.Failed, verdict.Outcome);
        Assert.Equal(["More was found than can be listed."], verdict.Reasons);
    }
}
