using System.Buffers;
using System.Text;
using System.Text.Json;
using Diagnostics.Agent.Commands;
using Diagnostics.Can;
using Diagnostics.Can.Traces;
using Diagnostics.Simulation;

namespace Diagnostics.Tests.Detectors;

/// <summary>
/// The whole way that a technician's trace takes: a site is simulated on its wire, what our adapter hears is written as a pcapng file, and
/// <c>replay --json</c> makes the report of it. Nothing is handed past the file: it holds frames, error messages and drop counters.
/// </summary>
internal sealed class Replayed
{

    /// <summary>A working day, so that people are there; the site's habits are known after two minutes.</summary>
    public static readonly Instant Morning = Instant.FromDateTime(new(2026, 1, 7, 9, 0, 0, TimeSpan.Zero));

    private Replayed(int exitCode, string error, JsonElement report)
    {
        ExitCode = exitCode;
        Error = error;
        Report = report;
    }

    public int ExitCode { get; }

    public string Error { get; }

    public JsonElement Report { get; }

    public IEnumerable<JsonElement> Findings => Report.GetProperty("findings").EnumerateArray();

    /// <summary>Kind and subject of each finding, for messages and for "nothing but".</summary>
    public string[] Kinds => [.. Findings.Select(finding => finding.GetProperty("finding").GetString()!)];

    /// <summary>What a technician would be sent for: findings of severity fault or warning.</summary>
    public string[] Accusations => [.. Findings.Where(finding => finding.GetProperty("severity").GetString() is "fault" or "warning").Select(finding => finding.GetProperty("key").GetString()!)];

    public JsonElement Bus => Report.GetProperty("buses")[0];

    /// <summary>The library on a working morning with what is to happen to it.</summary>
    public static Site Library(params Fault[] faults) => WrenfieldLibrary.Create() with { Start = Morning, Faults = faults };

    public static Site WithModule(Site site, int address, Func<ModulePlan, ModulePlan> change) =>
        site with { Modules = [.. site.Modules.Select(module => module.Address == address ? change(module) : module)] };

    public static Site WithModules(Site site, Func<ModulePlan, ModulePlan> change) => site with { Modules = [.. site.Modules.Select(change)] };

    public static TimeSpan Minutes(double minutes) => TimeSpan.FromMinutes(minutes);

    public static TimeSpan Seconds(double seconds) => TimeSpan.FromSeconds(seconds);

    /// <summary>Simulates the site for this long and replays what was recorded of it.</summary>
    /// <param name="site">What is heard.</param>
    /// <param name="length">Simulated time.</param>
    /// <param name="lost">Spans since the start in which the recorder dropped everything, declared by the capture's drop counter.</param>
    /// <param name="options">Further arguments of the command.</param>
    public static Replayed Of(Site site, TimeSpan length, (TimeSpan From, TimeSpan To)[]? lost = null, params string[] options)
    {
        Recording recording = new([.. (lost ?? []).Select(span => (site.Start + span.From, site.Start + span.To))]);
        new SiteSimulation(site).Run(recording, length);
        string[] rate = options.Contains("--bit-rate") ? [] : ["--bit-rate", site.BitRate.ToString(System.Globalization.CultureInfo.InvariantCulture)];
        return OfBytes(recording.Bytes, [.. rate, .. options]);
    }

    /// <summary>What a recorder on this site writes in this time, as a pcapng file.</summary>
    public static byte[] TraceOf(Site site, TimeSpan length)
    {
        Recording recording = new([]);
        new SiteSimulation(site).Run(recording, length);
        return recording.Bytes.ToArray();
    }

    /// <summary>Several sites on interfaces of their own in one file.</summary>
    public static Replayed OfSeveral(TimeSpan length, params Site[] sites)
    {
        Recording recording = new([]);
        new PairedRun([.. sites.Select(site => new SiteSimulation(site))]).Run(recording, length);
        return OfBytes(recording.Bytes, ["--bit-rate", "125000"]);
    }

    public static Replayed OfBytes(ReadOnlySpan<byte> bytes, params string[] options)
    {
        string file = Path.GetTempFileName();
        try
        {
            File.WriteAllBytes(file, bytes);
            return OfFile(file, options);
        }
        finally
        {
            File.Delete(file);
        }
    }

    public static Replayed OfText(string text, params string[] options) => OfBytes(Encoding.UTF8.GetBytes(text), options);

    public static Replayed OfFile(string file, params string[] options)
    {
        MemoryStream output = new();
        MemoryStream error = new();
        CommandContext context = new()
        {
            Input = Stream.Null,
            Output = output,
            Error = error,
            Sources = RealSources.Create(),
        };
        int exitCode = CommandLine.RunAsync(["replay", "--json", .. options, file], context, CancellationToken.None).GetAwaiter().GetResult();
        JsonElement report = output.Length == 0 ? default : JsonDocument.Parse(output.ToArray()).RootElement;
        if (exitCode == 0)
        {
            KeepsTheContract(report);
        }

        return new(exitCode, Encoding.UTF8.GetString(error.ToArray()), report);
    }

    /// <summary>What holds for every finding of every report.</summary>
    internal static void KeepsTheContract(JsonElement report)
    {
        foreach (JsonElement finding in report.GetProperty("findings").EnumerateArray())
        {
            string key = finding.GetProperty("key").GetString()!;
            Assert.True(finding.GetProperty("causes").GetArrayLength() > 0, key);
            Assert.Equal(1, finding.GetProperty("causes").EnumerateArray().Sum(cause => cause.GetProperty("probability").GetDouble()), 9);
            Assert.Contains(finding.GetProperty("causes").EnumerateArray(), cause => cause.GetProperty("cause").GetString() == "unknown");
            Assert.True(
                finding.GetProperty("node").ValueKind == JsonValueKind.Number || finding.GetProperty("causes").EnumerateArray().All(cause => !cause.GetProperty("nextCheck").GetString()!.Contains("this drop", StringComparison.Ordinal)),
                key + " sends to a drop, and says not whose");
            Assert.InRange(finding.GetProperty("evidence").GetArrayLength(), 1, 8);
            Assert.InRange(finding.GetProperty("confidence").GetDouble(), 0.5, 1);
            Assert.True(finding.GetProperty("count").GetInt32() >= 1, key);
            Assert.EndsWith(".", finding.GetProperty("summary").GetString(), StringComparison.Ordinal);
            double start = SecondsOf(finding, "start");
            Assert.True(start <= SecondsOf(finding, "raised"), key + " was raised before it began");
            Assert.True(!HasEnded(finding) || start <= SecondsOf(finding, "end"), key + " ended before it began");
        }

        HashSet<string> keys = [.. report.GetProperty("findings").EnumerateArray().Select(finding => finding.GetProperty("key").GetString()!)];
        foreach (JsonElement finding in report.GetProperty("findings").EnumerateArray())
        {
            Assert.True(finding.GetProperty("explainedBy").GetString() is not string leader || keys.Contains(leader), "the finding that explains this one is missing");
            Assert.DoesNotContain("UTC", finding.GetProperty("summary").GetString(), StringComparison.Ordinal);
            NobodyIsClearedOf(finding, report);
        }

        string[] ranks = ["fault", "warning", "note"];
        int[] order = [.. report.GetProperty("findings").EnumerateArray().Select(finding => Array.IndexOf(ranks, Severity(finding)))];
        Assert.Equal(order.Order(), order);
    }

    /// <summary>Who is accused of something has no assurance that it is not so.</summary>
    private static void NobodyIsClearedOf(JsonElement finding, JsonElement report)
    {
        string? cleared = finding.GetProperty("finding").GetString() switch
        {
            "node.errors" or "node.reports-fault" => "no error on its frames",
            "node.restarted" or "node.unstable" => "no restart",
            "node.duplicate-address" => "no second sender of its address",
            "line.level" => "no change of the dominant level against the first hour",
            _ => null,
        };
        int[] accused = finding.GetProperty("nodes").ValueKind == JsonValueKind.Array ? Nodes(finding)
            : finding.GetProperty("node").ValueKind == JsonValueKind.Number ? [finding.GetProperty("node").GetInt32()] : [];
        foreach (JsonElement assurance in report.GetProperty("assurances").EnumerateArray().Where(one => report.GetProperty("buses").GetArrayLength() == 1 && one.GetProperty("statement").GetString() == cleared))
        {
            string subject = assurance.GetProperty("subject").GetString()!.TrimEnd(')');
            Assert.NotEqual("no change of the dominant level against the first hour", cleared);
            Assert.DoesNotContain(accused, node => subject.Split(' ')[^1] == node.ToString(System.Globalization.CultureInfo.InvariantCulture));
        }
    }

    /// <summary>Whether a finding of this kind (and subject) was raised.</summary>
    public bool Has(string finding, int? node = null, int? input = null) => All(finding, node, input).Any();

    /// <summary>The one finding of this kind (and subject).</summary>
    public JsonElement The(string finding, int? node = null, int? input = null)
    {
        JsonElement[] all = [.. All(finding, node, input)];
        Assert.True(all.Length == 1, $"{all.Length} findings {finding} of node {node}; raised: {string.Join(", ", Findings.Select(one => one.GetProperty("key").GetString()))}");
        return all[0];
    }

    /// <summary>Seconds from the morning's start to a time of the report.</summary>
    public static double SecondsOf(JsonElement finding, string member) =>
        (DateTimeOffset.Parse(finding.GetProperty(member).GetString()!, System.Globalization.CultureInfo.InvariantCulture) - DateTimeOffset.FromUnixTimeMilliseconds(Morning.Nanoseconds / 1_000_000)).TotalSeconds;

    public static string Severity(JsonElement finding) => finding.GetProperty("severity").GetString()!;

    public static string TopCause(JsonElement finding) => finding.GetProperty("causes")[0].GetProperty("cause").GetString()!;

    public static int[] Nodes(JsonElement finding) => [.. finding.GetProperty("nodes").EnumerateArray().Select(node => node.GetInt32())];

    public static bool HasEnded(JsonElement finding) => finding.GetProperty("end").ValueKind != JsonValueKind.Null;

    public JsonElement Node(int address) => Bus.GetProperty("nodes").EnumerateArray().Single(node => node.GetProperty("address").GetInt32() == address);

    private IEnumerable<JsonElement> All(string finding, int? node, int? input) => Findings.Where(one =>
        one.GetProperty("finding").GetString() == finding
        && (node is null || (one.GetProperty("node").ValueKind == JsonValueKind.Number && one.GetProperty("node").GetInt32() == node))
        && (input is null || one.GetProperty("input").GetInt32() == input));

    /// <summary>A recorder: frames and drop counters go into the file; that a clock stepped, no recorder knows.</summary>
    private sealed class Recording((Instant From, Instant To)[] lost) : IFrameSink
    {
        private readonly ArrayBufferWriter<byte> _bytes = new();
        private readonly long[] _dropped = new long[Core.Limits.Interfaces];
        private readonly long[] _written = new long[Core.Limits.Interfaces];
        private readonly bool[] _untold = new bool[Core.Limits.Interfaces];
        private PcapngWriter? _writer;
        private int _interfaces;

        public ReadOnlySpan<byte> Bytes => _bytes.WrittenSpan;

        private PcapngWriter Writer => _writer ??= new(_bytes);

        public void OnInterface(byte index, InterfaceFacts facts)
        {
            if (index == _interfaces)
            {
                _interfaces++;
                Writer.WriteInterface(facts.Name);
            }
        }

        public void OnFrame(in CanFrame frame)
        {
            Instant time = frame.Time;
            if (Array.Exists(lost, span => time >= span.From && time < span.To))
            {
                _dropped[frame.Interface]++;
                _untold[frame.Interface] = true;
                return;
            }

            if (_untold[frame.Interface])
            {
                _untold[frame.Interface] = false;
                Writer.WriteStatistics(frame.Interface, frame.Time, _written[frame.Interface], _dropped[frame.Interface]);
            }

            _written[frame.Interface]++;
            Writer.Write(frame);
        }

        public void OnNotSeen(in NotSeen notSeen)
        {
            if (notSeen.Kind == NotSeenKind.KernelDropped)
            {
                _dropped[notSeen.Interface] += notSeen.Count;
                _untold[notSeen.Interface] = true;
            }
        }
    }
}
