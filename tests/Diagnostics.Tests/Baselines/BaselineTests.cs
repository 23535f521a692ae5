using System.Text;
using Diagnostics.Agent.Commands;
using Diagnostics.Simulation;
using Diagnostics.Tests.Detectors;

namespace Diagnostics.Tests.Baselines;

/// <summary>
/// Short traces of the simulated library under tests/traces and the report that is expected of each under tests/baselines, as a person reads it.
/// The traces are checked in, so that a change of the simulation can't move what the analysis is held to. scripts/update-baselines writes both anew.
/// </summary>
public class BaselineTests
{
    private const string Update = "DIAGNOSTICS_UPDATE_BASELINES";

    private static readonly Dictionary<string, (TimeSpan Length, Fault[] Faults)> Staged = new()
    {
        ["all-well"] = (Replayed.Minutes(3), []),
        ["module-drops-off"] = (Replayed.Minutes(3), [new NodeWithoutPower(13) { Start = Replayed.Minutes(1.5) }]),
        ["address-set-twice"] = (Replayed.Minutes(3), [new DuplicateAddress(7) { Start = Replayed.Minutes(1.5), Oscillator = new(37) }]),
        ["bad-drop"] = (Replayed.Minutes(4), [new BadDrop(9, 5e-3) { Start = Replayed.Minutes(0.5) }]),
        ["power-comes-back"] = (Replayed.Minutes(3), [new SiteWithoutPower { Start = Replayed.Minutes(1), End = Replayed.Minutes(1.7) }]),
        ["commanded-reset"] = (Replayed.Minutes(3), [new CommandedReset(0) { Start = Replayed.Minutes(1.5) }]),
    };

    public static TheoryData<string> Names => [.. Staged.Keys];

    [Theory]
    [MemberData(nameof(Names))]
    public async Task TheReportIsTheExpectedOne(string name)
    {
        string tests = Environment.GetEnvironmentVariable(Update) ?? Path.Combine(AppContext.BaseDirectory, "../../../..");
        string trace = Path.Combine(tests, "traces", name + ".pcapng");
        string baseline = Path.Combine(tests, "baselines", name + ".txt");
        bool updates = Environment.GetEnvironmentVariable(Update) is not null;
        if (updates)
        {
            (TimeSpan length, Fault[] faults) = Staged[name];
            File.WriteAllBytes(trace, Replayed.TraceOf(Replayed.Library(faults), length));
        }

        string report = await TextReportOf(trace);
        if (updates)
        {
            File.WriteAllText(baseline, report);
        }

        Assert.Equal(File.ReadAllText(baseline), report);
    }

    [Fact]
    public async Task TheComparisonIsTheExpectedOne()
    {
        string tests = Environment.GetEnvironmentVariable(Update) ?? Path.Combine(AppContext.BaseDirectory, "../../../..");
        string baseline = Path.Combine(tests, "baselines", "compare.txt");
        string Trace(string name) => Path.Combine(tests, "traces", name + ".pcapng");
        string comparison = await TextOf(1, "compare", "--bit-rate", "125000", "--same-recorder", Trace("bad-drop"), Trace("module-drops-off"));
        if (Environment.GetEnvironmentVariable(Update) is not null)
        {
            File.WriteAllText(baseline, comparison);
        }

        Assert.Equal(File.ReadAllText(baseline), comparison);
    }

    private static Task<string> TextReportOf(string trace) => TextOf(0, "replay", "--bit-rate", "125000", trace);

    private static async Task<string> TextOf(int exitCode, params string[] arguments)
    {
        MemoryStream output = new();
        CommandContext context = new() { Input = Stream.Null, Output = output, Error = Stream.Null, Clock = new UtcClock(), Sources = RealSources.Create() };
        Assert.Equal(exitCode, await CommandLine.RunAsync(arguments, context, TestContext.Current.CancellationToken));
        return Encoding.UTF8.GetString(output.ToArray());
    }
}
