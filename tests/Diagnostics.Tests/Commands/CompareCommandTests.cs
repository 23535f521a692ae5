using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using Diagnostics.Agent.Commands;
using Diagnostics.Can;
using Diagnostics.Core.Comparison;
using Diagnostics.Simulation;
using Diagnostics.Tests.Detectors;
using Diagnostics.Tests.History;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Commands;

/// <summary>"Is it fixed?" as a technician asks it: traces of the simulated site before and after a repair.</summary>
public sealed class CompareCommandTests : IDisposable
{
    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("compare");

    public void Dispose() => _directory.Delete(recursive: true);

    private sealed record Compared(int ExitCode, string Error, string Text)
    {
        public JsonElement Document => JsonDocument.Parse(Text).RootElement;

        public string Verdict => Document.GetProperty("verdict").GetString()!;

        public string Sentence => Document.GetProperty("sentence").GetString()!;

        public string[] Outcomes => [.. Document.GetProperty("findings").EnumerateArray().Select(finding => $"{finding.GetProperty("finding").GetString()}: {finding.GetProperty("outcome").GetString()}")];
    }

    private static Compared Run(params string[] arguments)
    {
        MemoryStream output = new();
        MemoryStream error = new();
        CommandContext context = new() { Input = Stream.Null, Output = output, Error = error, Clock = new UtcClock(), Sources = RealSources.Create() };
        int exitCode = CommandLine.RunAsync(["compare", .. arguments], context, TestContext.Current.CancellationToken).GetAwaiter().GetResult();
        Compared compared = new(exitCode, Encoding.UTF8.GetString(error.ToArray()), Encoding.UTF8.GetString(output.ToArray()));
        if (exitCode < 2 && arguments.Contains("--json"))
        {
            Assert.True(PublishedSchemas.Comparison.Accepts(JsonNode.Parse(compared.Text)));
            Assert.Equal(exitCode == 0, compared.Verdict is ComparisonReport.Fixed or ComparisonReport.NoWorse);
        }

        return compared;
    }

    private static Compared RunJson(params string[] arguments) => Run(["--json", "--bit-rate", "125000", .. arguments]);

    private string Trace(string name, double minutes, params Fault[] faults) => Write(name, TraceOf(Library(faults), Minutes(minutes)));

    private string Write(string name, byte[] bytes)
    {
        string path = Path.Combine(_directory.FullName, name);
        File.WriteAllBytes(path, bytes);
        return path;
    }

    [Fact]
    public void ABadDropThatWasRepairedIsFixed()
    {
        string before = Trace("before.pcapng", 12, new BadDrop(9, 5e-3));
        string after = Trace("after.pcapng", 15);

        // The later trace holds no error message: whether it would have any, only who recorded it knows.
        Compared untold = RunJson(before, after);
        Assert.Equal(ComparisonReport.CannotTell, untold.Verdict);
        Compared told = RunJson(before, after, "--same-recorder");
        Assert.Equal(ComparisonReport.Fixed, told.Verdict);

        // The node cut itself off four times and said so, which follows from the damage.
        Assert.Equal(["node.errors: gone", "bus.error-rate: gone", "node.reports-fault: gone"], told.Outcomes);
        Assert.StartsWith("Fixed: damaged frames of node 9. ", told.Sentence, StringComparison.Ordinal);
        JsonElement errors = told.Document.GetProperty("rates").EnumerateArray().First(rate => rate.GetProperty("of").GetString() == "errors");
        Assert.Equal("lower", errors.GetProperty("change").GetString());
        Assert.Equal(0, errors.GetProperty("after").GetProperty("count").GetInt64());
    }

    [Fact]
    public void ABadDropThatIsStillBadIsNotFixedAndAWorseOneIsWorse()
    {
        string before = Trace("before.pcapng", 12, new BadDrop(9, 2e-3));
        Compared still = RunJson(before, Trace("still.pcapng", 12, new BadDrop(9, 2e-3)));
        Assert.Equal(ComparisonReport.NotFixed, still.Verdict);
        Compared worse = RunJson(before, Trace("worse.pcapng", 12, new BadDrop(9, 2e-2)));
        Assert.Equal(ComparisonReport.Worse, worse.Verdict);
        Assert.StartsWith("Not fixed, and worse. Still there: damaged frames of node 9.", worse.Sentence, StringComparison.Ordinal);
        Compared other = RunJson(before, Trace("other.pcapng", 12, new NodeWithoutPower(13) { Start = Minutes(2) }), "--same-recorder");
        Assert.Equal(ComparisonReport.Worse, other.Verdict);
        Assert.Contains("New: silence of node 13.", other.Sentence, StringComparison.Ordinal);
    }

    [Fact]
    public void TooShortALookIsNoProof()
    {
        Compared compared = RunJson(Trace("before.pcapng", 6, new NodeWithoutPower(13) { Start = Minutes(2) }), Trace("after.pcapng", 4));
        Assert.Equal(ComparisonReport.CannotTell, compared.Verdict);
        Assert.Equal(["node.silent: not-seen-again"], compared.Outcomes);
        Assert.InRange(compared.Document.GetProperty("findings")[0].GetProperty("moreSeconds").GetDouble(), 350, 370);
    }

    [Fact]
    public void AModuleThatIsMissingAfterTheRepairIsFound()
    {
        Compared compared = RunJson(Trace("before.pcapng", 3), Trace("after.pcapng", 3, new OpenDrop(11)));
        Assert.Equal(ComparisonReport.Worse, compared.Verdict);
        Assert.Equal("Worse. New: silence of node 11.", compared.Sentence);
        Assert.Equal("missing", Assert.Single(compared.Document.GetProperty("nodes").EnumerateArray()).GetProperty("change").GetString());
    }

    [Fact]
    public void OneTraceIsCutAtTheMomentOfTheRepair()
    {
        string trace = Trace("day.pcapng", 30, new BadDrop(9, 5e-3) { End = Minutes(12) });
        Compared compared = RunJson(trace, "--at", "2026-01-07T09:12Z");
        Assert.Equal(ComparisonReport.Fixed, compared.Verdict);
        Assert.Equal("2026-01-07T09:12:00Z", compared.Document.GetProperty("before").GetProperty("end").GetString());
        Assert.Equal("2026-01-07T09:12:00Z", compared.Document.GetProperty("after").GetProperty("start").GetString());

        // Local time is that of the machine, here UTC; an hour later in a zone an hour ahead.
        Assert.Equal(compared.Text, RunJson(trace, "--at", "2026-01-07T09:12").Text);
        Assert.Equal(compared.Text, RunJson(trace, "--at", "2026-01-07T10:12:00+01:00").Text);

        // Cut too early, the fault lies on both sides.
        Assert.Equal(ComparisonReport.NotFixed, RunJson(trace, "--at", "2026-01-07T09:06Z").Verdict);
        foreach (string outside in new[] { "2026-01-07T08:59Z", "2026-01-07T09:31Z" })
        {
            Compared refused = RunJson(trace, "--at", outside);
            Assert.Equal(2, refused.ExitCode);
            Assert.Contains(outside.Contains("08:", StringComparison.Ordinal) ? "has nothing before" : "has nothing after", refused.Error, StringComparison.Ordinal);
        }
    }

    [Fact]
    public void ASilenceTooSoonBehindTheCutForItsHabitIsStillFound()
    {
        // Node 13 falls silent 3 s behind the cut: the later side alone has heard too few of its heartbeats to miss any.
        string trace = Trace("day.pcapng", 8, new NodeWithoutPower(13) { Start = Minutes(4) + Seconds(5) });
        Compared compared = RunJson(trace, "--at", "2026-01-07T09:04:02Z");
        Assert.Equal(["node.silent: new"], compared.Outcomes);
        Assert.Equal(ComparisonReport.Worse, compared.Verdict);
    }

    /// <summary>A recording from outside (shared/recordings): one analysis of all of it finds a second silence, from 14:02:20 to 14:05:45, behind the end of the first.</summary>
    [Fact]
    public void ASecondSilenceRightBehindTheFirstIsPartOfTheLaterSide()
    {
        string trace = RecordedFiles.Find("small-bus-125k", "multiple_failed_tries_to_powerup.pcapng");
        Compared compared = RunJson(trace, "--at", "2016-07-15T14:02Z");
        Assert.Equal(["bus.no-traffic: still-there"], compared.Outcomes);
        JsonElement after = compared.Document.GetProperty("findings")[0].GetProperty("after");
        Assert.Equal(2, after.GetProperty("count").GetInt64());
        Assert.Equal("2016-07-15T14:02:00Z", after.GetProperty("start").GetString());
        Assert.StartsWith("2016-07-15T14:05:45", after.GetProperty("end").GetString(), StringComparison.Ordinal);
    }

    [Fact]
    public void SavedReportDocumentsAreSidesAsWell()
    {
        string trace = Trace("before.pcapng", 12, new BadDrop(9, 5e-3));
        byte[] document = JsonSerializer.SerializeToUtf8Bytes(OfFile(trace, "--bit-rate", "125000").Report);
        string report = Write("report.json", [.. "\uFEFF\n"u8, .. document]);
        Compared compared = RunJson(report, trace);
        Assert.Equal(ComparisonReport.NotFixed, compared.Verdict);
        Assert.Equal("report", compared.Document.GetProperty("before").GetProperty("kind").GetString());
        Assert.All(compared.Document.GetProperty("rates").EnumerateArray(), rate => Assert.Equal(rate.GetProperty("before").GetRawText(), rate.GetProperty("after").GetRawText()));

        // A document of an older version tells neither bits nor the heard time.
        JsonNode older = JsonNode.Parse(document)!;
        foreach (string member in new[] { "heardSeconds", "bitsHeard", "errorEpisodes" })
        {
            older["buses"]![0]!.AsObject().Remove(member);
        }

        Compared old = RunJson(Write("older.json", Encoding.UTF8.GetBytes(older.ToJsonString())), trace);
        Assert.Equal(ComparisonReport.NotFixed, old.Verdict);
        Assert.Contains(old.Document.GetProperty("limits").EnumerateArray(), limit => limit.GetString()!.Contains("couldn't be seen before", StringComparison.Ordinal));
    }

    /// <summary>The site on a board that kept a log: the directory, a bundle of it, and the trace of the same time say the same.</summary>
    [Fact]
    public void LogsAndBundlesAreSidesAsWell()
    {
        BadDrop fault = new(9, 2e-3) { End = Minutes(12) };
        string log = _directory.CreateSubdirectory("log").FullName;
        SimulatedLog.Write(log, Library(fault), Minutes(27));
        Compared cut = RunJson(log, "--at", "2026-01-07T09:12Z");
        Assert.Equal(ComparisonReport.Fixed, cut.Verdict);
        Assert.Equal("log", cut.Document.GetProperty("after").GetProperty("kind").GetString());
        Assert.Equal(cut.Outcomes, RunJson(Write("same.pcapng", TraceOf(Library(fault), Minutes(27))), "--at", "2026-01-07T09:12Z").Outcomes);

        string bundle = BundleOf(log);
        Compared ofBundle = RunJson(bundle, "--at", "2026-01-07T09:12Z");
        Assert.Equal(cut.Document.GetProperty("sentence").GetString(), ofBundle.Sentence);
        Assert.Equal("bundle", ofBundle.Document.GetProperty("before").GetProperty("kind").GetString());

        // One against another, and a log against a trace.
        string healthy = _directory.CreateSubdirectory("healthy").FullName;
        SimulatedLog.Write(healthy, Library() with { Start = Morning + TimeSpan.FromDays(1) }, Minutes(12));
        string bad = _directory.CreateSubdirectory("bad").FullName;
        SimulatedLog.Write(bad, Library(new BadDrop(9, 2e-3)), Minutes(12));
        Assert.Equal(ComparisonReport.Fixed, RunJson(bad, healthy, "--same-recorder").Verdict);
        Assert.Equal(ComparisonReport.Fixed, RunJson(BundleOf(bad), BundleOf(healthy), "--same-recorder").Verdict);
        Assert.Equal(ComparisonReport.NotFixed, RunJson(bad, bundle).Verdict);
        Assert.Equal(ComparisonReport.Fixed, RunJson(bad, Trace("after.pcapng", 12), "--same-recorder").Verdict);

        byte[] cutOff = File.ReadAllBytes(bundle);
        Compared refused = Run(Write("cut.zip", cutOff[..^100]), bad);
        Assert.Equal(2, refused.ExitCode);
        Assert.Matches("^diagnostics: [^\n]+\n$", refused.Error);
    }

    private string BundleOf(string log)
    {
        string to = Path.Combine(_directory.FullName, Path.GetFileName(log) + ".zip");
        MemoryStream error = new();
        CommandContext context = new() { Input = Stream.Null, Output = Stream.Null, Error = error, Clock = new UtcClock(), Sources = RealSources.Create() };
        int exitCode = CommandLine.RunAsync(["bundle", "--log", log, "--to", to, "--port", "1"], context, TestContext.Current.CancellationToken).GetAwaiter().GetResult();
        Assert.True(exitCode == 0, Encoding.UTF8.GetString(error.ToArray()));
        return to;
    }

    [Fact]
    public void HostileDocumentsAreTakenOrRefusedButNeverCrash()
    {
        string trace = Trace("trace.pcapng", 3, new BadDrop(9, 5e-3));
        string document = OfFile(trace, "--bit-rate", "125000").Report.GetRawText();
        (string Member, string Value)[] changes =
        [
            ("count", "2147483647"), ("count", "-5"), ("errorEpisodes", "9223372036854775807"), ("errorEpisodes", "-1"), ("bitsHeard", "1e308"), ("bitsHeard", "-1"), ("heardSeconds", "1e308"),
            ("heardSeconds", "-7"), ("frames", "9223372036854775807"), ("frames", "-1"), ("errorsOnItsFrames", "9223372036854775807"), ("address", "-1"), ("address", "2147483647"),
            ("severity", "\"\""), ("summary", "\"\\u001b[31m\\u202E\\n\""), ("interface", "\"\""), ("finding", "\"x\""), ("end", "\"0001-01-01T00:00:00Z\""), ("raised", "\"9999-12-31T23:59:59.999999999Z\""),
            ("restartsUnexplained", "2147483647"), ("node", "-3"), ("nodes", "[]"), ("explainedBy", "\"x\""),
        ];
        foreach ((string member, string value) in changes)
        {
            string changed = System.Text.RegularExpressions.Regex.Replace(document, $"\"{member}\": (\"[^\"]*\"|[^,\\[\\]{{}}\\n]+)", $"\"{member}\": {value}");
            string file = Write("hostile.json", Encoding.UTF8.GetBytes(changed));
            foreach (string[] sides in new string[][] { [file, trace], [trace, file], [file, file] })
            {
                Compared compared = Run(["--bit-rate", "125000", .. sides]);
                Assert.InRange(compared.ExitCode, 0, 2);
                Assert.Equal(compared.ExitCode == 2, compared.Text.Length == 0);
                Assert.DoesNotContain('\u001b', compared.Text + compared.Error);
                Assert.DoesNotContain('\u202E', compared.Text + compared.Error);
            }
        }

        foreach (string broken in new[] { "{", "{}", "{\"schema\":1}", document[..(document.Length / 2)], document.Replace("\"schema\": 1", "\"schema\": 2", StringComparison.Ordinal), new string('{', 100_000) })
        {
            Compared refused = Run(Write("broken.json", Encoding.UTF8.GetBytes(broken)), trace);
            Assert.Equal(2, refused.ExitCode);
            Assert.Matches("^diagnostics: [^\n]+\n$", refused.Error);
        }
    }

    [Fact]
    public void TheTextHasEightyColumnsAndBeginsWithTheVerdict()
    {
        string before = Trace("before.pcapng", 12, new BadDrop(9, 5e-3), new NodeWithoutPower(13) { Start = Minutes(3) });
        Compared compared = Run("--bit-rate", "125000", before, Trace("after.pcapng", 12));
        Assert.Equal(1, compared.ExitCode);
        Assert.StartsWith("Can't tell. Damaged frames of node 9", compared.Text, StringComparison.Ordinal);
        Assert.All(compared.Text.Split('\n'), line => Assert.InRange(line.Length, 0, 80));
        Assert.Contains("--same-recorder", compared.Text, StringComparison.Ordinal);
        Assert.Contains("What is gone\n", compared.Text, StringComparison.Ordinal);
        Assert.Contains("At 95 % confidence.", compared.Text, StringComparison.Ordinal);
        Assert.DoesNotContain("--same-recorder", Run("--bit-rate", "125000", "--same-recorder", before, Path.Combine(_directory.FullName, "after.pcapng")).Text, StringComparison.Ordinal);
    }

    [Fact]
    public void AnotherSiteIsRefusedInOneLine()
    {
        Site other = WithModules(Library(), module => module with { Address = module.Address + 40 });
        Compared compared = Run(Trace("before.pcapng", 3), Write("other.pcapng", TraceOf(other with { Rules = [] }, Minutes(3))));
        Assert.Equal(2, compared.ExitCode);
        Assert.Contains("not one node is on both sides", compared.Error, StringComparison.Ordinal);
        Assert.Matches("^diagnostics: [^\n]+\n$", compared.Error);
    }

    [Theory]
    [InlineData(new string[0], "0 of the two were named")]
    [InlineData(new[] { "a" }, "1 of the two were named")]
    [InlineData(new[] { "a", "b", "c" }, "3 of the two were named")]
    [InlineData(new[] { "-", "-" }, "standard input is named twice")]
    [InlineData(new[] { "a", "b", "--at", "2026-01-07T09:12Z" }, "2 were named")]
    [InlineData(new[] { "a", "b", "--from", "2026-01-07T09:12Z" }, "it goes with --at only")]
    [InlineData(new[] { "a", "b", "--until", "2026-01-07T09:12Z" }, "it goes with --at only")]
    [InlineData(new[] { "a", "--at", "2026-01-07T09:12Z", "--from", "2026-01-07T09:12Z" }, "--from: it isn't before --at")]
    [InlineData(new[] { "a", "--at", "2026-01-07T09:12Z", "--until", "2026-01-07T09:12Z" }, "--until: it isn't behind --at")]
    [InlineData(new[] { "a", "--at", "noon" }, "'noon' is no time")]
    [InlineData(new[] { "nowhere", "b" }, "there is no such file or directory")]
    [InlineData(new[] { "/dev/null", "b" }, "the trace is empty")]
    [InlineData(new[] { "a", "b", "--hmtl" }, "'diagnostics compare --help'")]
    [InlineData(new[] { "a", "b", "--bit-rate", "1" }, "bit/s")]
    public void WhatIsWrongIsToldInOneLine(string[] arguments, string told)
    {
        Compared compared = Run(arguments);
        Assert.Equal(2, compared.ExitCode);
        Assert.Equal(string.Empty, compared.Text);
        Assert.Matches("^diagnostics: [^\n]+\n$", compared.Error);
        Assert.Contains(told, compared.Error, StringComparison.Ordinal);
    }

    [Fact]
    public void WhatIsNoSideIsRefused()
    {
        string text = Write("notes.txt", "the lights flickered again"u8.ToArray());
        Assert.Contains("it is named twice", Run(text, text).Error, StringComparison.Ordinal);
        Assert.Matches(
            "neither a capture file .*; name a trace, the directory of a log, a bundle or a report document\\.\n$", Run(text, Write("more.txt", "and again"u8.ToArray())).Error);
        Assert.Contains(
            "the trace is empty; name a trace, the directory of a log, a bundle or a report document.", Run(Write("empty.log", []), "--at", "2026-01-07T09:12Z").Error, StringComparison.Ordinal);
        string zip = Write("x.zip", "PK\u0003\u0004"u8.ToArray());
        Assert.Contains("it is no zip archive", Run(zip, text).Error, StringComparison.Ordinal);
        Assert.Contains("there is no log in it", Run(_directory.FullName, text).Error, StringComparison.Ordinal);
        string report = Write("r.json", "{}"u8.ToArray());
        Assert.Contains("can't be cut in two", Run(report, "--at", "2026-01-07T09:12Z").Error, StringComparison.Ordinal);
        string trace = Trace("t.pcapng", 1);
        Assert.Contains("it cuts logs and bundles", Run(trace, "--at", "2026-01-07T09:00:30Z", "--from", "2026-01-07T09:00Z").Error, StringComparison.Ordinal);
    }

    [Fact]
    public void TheLaterRecordNamedFirstIsRefusedInsteadOfCallingWhatCameGone()
    {
        string early = Write("early.json", Document("2026-01-05"));
        string late = Write("late.json", Document("2026-01-07"));
        Compared swapped = Run(late, early);
        Assert.Equal(2, swapped.ExitCode);
        Assert.Contains("the first is the later one", swapped.Error, StringComparison.Ordinal);
        Assert.NotEqual(2, Run(early, late).ExitCode);

        static byte[] Document(string day)
        {
            Core.Reporting.Report quiet = Pages.SampleReports.Quiet();
            Diagnostics.Can.Instant start = Diagnostics.Can.Instant.FromDateTime(DateTimeOffset.Parse(day + "T09:00Z", System.Globalization.CultureInfo.InvariantCulture));
            return Core.Reporting.ReportJson.ToUtf8(quiet with { Source = quiet.Source with { Start = start, End = start + TimeSpan.FromHours(1) } });
        }
    }

    [Fact]
    public void TheHelpSaysWhatTheExitCodesMean()
    {
        Compared help = Run("--help");
        Assert.Equal(0, help.ExitCode);
        Assert.Contains("Exit code 0: fixed, or no worse and nothing new; 1: anything else, also where it can't be told.", help.Text, StringComparison.Ordinal);
        Assert.Contains("--same-recorder", help.Text, StringComparison.Ordinal);
    }
}
