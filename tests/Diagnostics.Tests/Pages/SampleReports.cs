using Diagnostics.Agent.History;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Tests.Pages;

/// <summary>Invented report documents of the Wrenfield community library, rich enough to fill every part of the page. Times and numbers are made up.</summary>
public static class SampleReports
{
    /// <summary>A name that tries to be markup, and one that tries to turn the text around.</summary>
    public const string HostileName = "<img src=x onerror=alert(1)>\"'&</main><script>alert(2)</script>";
    public const string TurningName = "caf\u202E\u2066\u0007é dimmer";

    public static readonly Instant Start = Instant.FromDateTime(new DateTimeOffset(2026, 11, 21, 18, 0, 0, TimeSpan.Zero));
    public static readonly Instant End = Start + TimeSpan.FromHours(14.2);

    private static readonly IdentityReport NoIdentity = new(null, null, null, null, null, null);

    /// <summary>Faults, warnings and notes of every subject, gaps, several causes, hostile names.</summary>
    public static Report Rich() => new(
        Report.CurrentSchema,
        new("live", "can0", Start, End, new(12, 0, 0,
        [
            new("can0", Start + TimeSpan.FromHours(3), Start + TimeSpan.FromHours(3.4), "the interface was down"),
            new(null, Start + TimeSpan.FromHours(9), Start + TimeSpan.FromHours(9) + TimeSpan.FromSeconds(14), "this program did not get to run"),
        ])),
        [Bus("can0", Nodes())],
        Findings(),
        [
            new("node 5", "no error on its frames", 1_200_000, 2.5e-6, 0.95),
            new("the trunk", "no error that hits all nodes alike", 3_400_000, 8.8e-7, 0.95),
            new(HostileName, "no restart", 14, null, null),
        ]);

    /// <summary>Nothing heard at all.</summary>
    public static Report NothingHeard() => new(
        Report.CurrentSchema,
        new("live", "can0", Start, Start + TimeSpan.FromMinutes(10), new(0, 0, 0, [])),
        [new() { Interface = "can0", BitRateSource = "unknown", Protocol = "auto", Errors = new(0, 0, 0, 0, 0, 0), Nodes = [], Identifiers = [] }],
        [],
        []);

    /// <summary>All is well, and all was seen.</summary>
    public static Report Quiet() => Rich() with
    {
        Source = new("trace", "evening.pcapng", Start, End, new(0, 0, 0, [])),
        Findings = [],
    };

    /// <summary>Sixty nodes, some silent, none named.</summary>
    public static Report Crowded() => Rich() with
    {
        Buses = [Bus("can0", Enumerable.Range(1, 60).Select(address => Node(address, null, address % 20 != 7)).ToArray())],
    };

    /// <summary>A protocol that nobody knows: identifiers only.</summary>
    public static Report Unknown() => Quiet() with
    {
        Buses =
        [
            Bus("can0", []) with
            {
                Protocol = "none",
                ErrorReporting = false,
                Identifiers = Enumerable.Range(0, 24).Select(index => new IdentifierReport(
                    CanId.Extended(0x18FF0000u + (uint)index).ToString(), 1000 * (24 - index), index % 3 == 0 ? null : 0.1 * (index + 1), index % 3 == 0 ? null : 0.0004, 0.04, null)).ToArray(),
            },
        ],
    };

    /// <summary>Minute rows with an evening's shape, a hole where nothing was heard, and a burst of errors.</summary>
    internal static IReadOnlyList<TrafficRow> Rows()
    {
        List<TrafficRow> rows = [];
        for (int minute = 0; minute < 14 * 60; minute++)
        {
            if (minute is >= 180 and < 204)
            {
                continue;
            }

            double mean = 0.18 + (0.1 * Math.Sin(minute / 90.0)) + (minute is > 500 and < 540 ? 0.3 : 0);
            rows.Add(new(Start + TimeSpan.FromMinutes(minute), 60, "can0", mean, Math.Min(1, mean * 1.6), (long)(mean * 60_000), minute is > 610 and < 640 ? (minute * 7) % 23 : minute % 97 == 0 ? 1 : 0, 8));
        }

        return rows;
    }

    private static BusReport Bus(string name, IReadOnlyList<NodeReport> nodes) => new()
    {
        Interface = name,
        BitRate = 125_000,
        BitRateSource = "interface",
        Protocol = "canopen",
        ListenOnly = true,
        ErrorReporting = true,
        Frames = 4_812_733,
        RemoteFrames = 120,
        ErrorMessages = 391,
        LoadMean = 0.212,
        LoadPeak1s = 0.84,
        LoadPeak100ms = 0.97,
        ErrorLoadMean = 0.0004,
        HeardSeconds = 49_666,
        BitsHeard = 1_316_000_000,
        ControllerState = "error-passive",
        Errors = new(120, 210, 14, 31, 0, 16),
        ErrorEpisodes = 380,
        Undecodable = new Dictionary<string, long> { ["pdoTooShort"] = 12, ["unknownCommand"] = 3 },
        Nodes = nodes,
        Identifiers = [new("0x185", 480_000, 0.1, 0.0004, 0.1, 5)],
    };

    private static NodeReport[] Nodes() =>
    [
        Node(1, "plant room relays", true),
        Node(5, "workshop buttons", true),
        Node(7, "café dimmer", false) with { Restarts = 4, ErrorsOnItsFrames = 311 },
        Node(9, "reading room inputs", true),
        Node(11, HostileName, true),
        Node(12, TurningName, true),
        Node(20, new string('W', 400), null) with { SilenceNoticedWithinSeconds = null, HeartbeatSeconds = null, State = null },
    ];

    private static NodeReport Node(int address, string? name, bool? present) => new()
    {
        Address = address,
        Name = name,
        State = "operational",
        Present = present,
        FirstHeard = Start,
        LastHeard = present == false ? End - TimeSpan.FromMinutes(74) : End - TimeSpan.FromSeconds(0.4),
        Frames = 51_000,
        TrafficShare = 0.05,
        HeartbeatSeconds = 1,
        SilenceNoticedWithinSeconds = 3.5,
        Identity = NoIdentity with { Firmware = address == 5 ? "2.14" : null },
    };

    private static FindingReport[] Findings() =>
    [
        Finding("node.silent", "fault", "The café dimmer (node 7) stopped sending and has not come back.", 0.998) with
        {
            Node = 7,
            Start = End - TimeSpan.FromMinutes(74),
            Measurements = [new("heartbeatUsually", 1.0, "s"), new("silentFor", 4440, "s")],
            Evidence =
            [
                new(End - TimeSpan.FromMinutes(74), "last heartbeat, state operational"),
                new(End - TimeSpan.FromMinutes(74) + TimeSpan.FromSeconds(3.5), "three heartbeats are missing; its neighbours 5 and 9 go on"),
            ],
            Causes =
            [
                new("supply-weak", 0.55, "It restarted four times in the hour before, each time when the bench lights came on.", "Measure the supply at node 7’s terminals while someone switches the bench lights.", "At least 20 V all the time; below 18 V a node restarts.", "The dimmer’s load side is mains. Isolate it before you open the cover."),
                new("cable-open", 0.25, "Nothing beyond node 7 fell silent, so it would be its own drop.", "Pull node 7’s plug and look at the four clamps.", "Bare copper held fast in each clamp, no loose strand.", null),
                new("device-fault", 0.15, "Its neighbours on the same supply run on.", "Exchange node 7 for a spare with the same address.", "The spare is heard within 5 s.", null),
                new("unknown", 0.05, "Nothing else points anywhere.", "Listen for another day.", "The same again, or nothing.", null),
            ],
        },
        Finding("node.duplicate-address", "fault", "Two devices use address 9: reading room inputs and another one.", 0.97) with
        {
            Node = 9,
            Start = Start + TimeSpan.FromHours(2),
            Count = 2,
            Measurements = [new("bootMessagesWhileRunning", 3, "count"), new("clockDifference", 18.2, "ppm", 17.9, 18.5, 0.95)],
            Evidence = Enumerable.Range(0, 8).Select(index => new EvidenceReport(Start + TimeSpan.FromHours(2 + index), $"boot-up of node 9 while its heartbeat says operational ({index + 1})")).ToArray(),
            Causes =
            [
                new("address-set-twice", 0.95, "Two clocks that differ by 18 ppm send under one address.", "Compare the rotary switches of the boxes that were worked on last.", "Each address once.", null),
                new("unknown", 0.05, "", "Pull the plug of reading room inputs.", "Node 9 is still heard: then the other box is the one.", null),
            ],
        },
        Finding("cable.intermittent", "fault", "The connection between node 5 and node 7 makes and breaks.", 0.86) with
        {
            Segment = "between node 5 and node 7",
            Nodes = [7, 9, 11, 12],
            Start = Start + TimeSpan.FromHours(5),
            End = Start + TimeSpan.FromHours(10),
            Count = 31,
            Measurements = [new("errorsBeyondIt", 0.94, "ratio", 0.88, 0.97, 0.95)],
            Causes = [new("cable-intermittent", 0.8, "All who were hit are beyond it.", "Open the joint at 12.5 m and tug each conductor.", "None moves.", null), new("unknown", 0.2, "", "", "", null)],
        },
        Finding("input.chatter", "warning", "One push on input 3 of the workshop buttons arrives as several.", 0.92) with
        {
            Node = 5,
            Input = 3,
            Start = Start + TimeSpan.FromMinutes(50),
            Count = 12,
            Measurements = [new("changesPerPush", 4.2, "1"), new("shortestPulse", 0.012, "s")],
            Causes = [new("contact-worn", 0.6, "It got worse over the day.", "Exchange the push-button, or swap it with its neighbour and see whether the trouble moves.", "The trouble moves with the button.", null), new("contact-bounce-setting", 0.3, "", "Read the filter time of input 3.", "10 ms or more.", null), new("unknown", 0.1, "", "", "", null)],
        },
        Finding("bus.error-rate", "warning", "Errors come more often than on a healthy line.", 0.99) with
        {
            Start = Start,
            Measurements = [new("errorRate", 35, "1/h", 24.4, 48.7, 0.95), new("bitErrorRatio", 2.1e-7, "ratio", 1.4e-7, 3.0e-7, 0.95)],
            Causes = [new("interference", 0.7, "", "Look for a cable that runs beside a motor lead.", "The rate falls when that motor is off.", null), new("unknown", 0.3, "", "", "", null)],
        },
        Finding("node.firmware-differs", "note", $"Node 11 ({HostileName}) runs another firmware than its equals.", 0.6) with
        {
            Node = 11,
            OtherNode = 12,
            Start = Start + TimeSpan.FromMinutes(1),
            Causes = [new("configuration-differs", 1, "", "Compare the labels.", "", null)],
        },
    ];

    private static FindingReport Finding(string finding, string severity, string summary, double confidence) => new()
    {
        Key = $"{finding}/can0/{summary.Length}",
        Finding = finding,
        Severity = severity,
        Interface = "can0",
        Start = Start,
        Raised = Start + TimeSpan.FromMinutes(2),
        Count = 1,
        Confidence = confidence,
        Summary = summary,
        Measurements = [],
        Evidence = [],
        Causes = [],
    };
}
