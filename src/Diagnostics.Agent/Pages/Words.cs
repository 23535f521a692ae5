using System.Globalization;
using System.Text;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages;

/// <summary>How the report's names and numbers are said to a person; the page and the text report share it. What isn't known here is said by its own name.</summary>
internal static class Words
{
    private static readonly Dictionary<string, Sentence> Causes = new(StringComparer.Ordinal)
    {
        ["address-set-twice"] = Say($"Two devices are set to the same address"),
        ["cable-open"] = Say($"A conductor is open"),
        ["cable-intermittent"] = Say($"A connection makes and breaks"),
        ["cable-short"] = Say($"Conductors touch each other or a foreign part"),
        ["termination-missing"] = Say($"A terminator is missing"),
        ["termination-extra"] = Say($"There is a terminator too many"),
        ["supply-weak"] = Say($"The supply is weak or missing"),
        ["ground-offset"] = Say($"Grounds differ between parts of the site"),
        ["interference"] = Say($"Something disturbs the cable from outside"),
        ["switching-interference"] = Say($"Loads that are switched disturb the cable"),
        ["bit-rate-wrong"] = Say($"Something runs at another bit rate"),
        ["controller-fault"] = Say($"It is the site’s controller: its state or its settings"),
        ["device-fault"] = Say($"The device itself is faulty"),
        ["device-restarted-by-supply"] = Say($"The device restarted because its supply dipped"),
        ["device-watchdog"] = Say($"The device restarted itself after its program hung"),
        ["contact-worn"] = Say($"The contact is worn or dirty"),
        ["contact-bounce-setting"] = Say($"The input's filter is set too short for this contact"),
        ["moisture-or-leakage"] = Say($"Moisture or leakage at the input"),
        ["button-held"] = Say($"Something or someone holds the button"),
        ["configuration-differs"] = Say($"The configuration differs from what it should be"),
        ["command-loop"] = Say($"Two controls answer each other in a loop"),
        ["sender-alone"] = Say($"The sender is alone: nobody is there to acknowledge"),
        ["overload"] = Say($"More is sent than suits this bit rate"),
        ["adapter-limit"] = Say($"It is on our own side: clip, adapter or board"),
        ["unknown"] = Say($"Something else"),
    };

    private static readonly Dictionary<string, Sentence> Units = new(StringComparer.Ordinal)
    {
        ["1/h"] = Say($"per hour"),
        ["1/min"] = Say($"per minute"),
        ["1/s"] = Say($"per second"),
        ["1/d"] = Say($"per day"),
        ["bit/s"] = Say($"bit/s"),
        ["1"] = Sentence.Empty,
        ["count"] = Sentence.Empty,
        ["ohm"] = Say($"Ω"),
    };

    /// <summary>Measurements; others are said by their name.</summary>
    private static readonly Dictionary<string, Sentence> Measurements = new(StringComparer.Ordinal)
    {
        ["silenceLimit"] = Say($"Silent after"),
        ["indexOfDispersion"] = Say($"Clustering (1 = chance)"),
        ["chatteredOperations"] = Say($"Operations that chattered"),
        ["operations"] = Say($"Operations watched"),
        ["shortestLevel"] = Say($"Shortest pulse"),
        ["bitErrorRatio"] = Say($"Bits that were hit"),
        ["errorEpisodes"] = Say($"Disturbances"),
        ["spoiltFrames"] = Say($"Its frames that came damaged"),
        ["errorsPerFrame"] = Say($"Part of its frames that came damaged"),
        ["trafficShare"] = Say($"Share of the traffic"),
        ["timesLeft"] = Say($"Times it left"),
        ["unansweredCommands"] = Say($"Commands without an answer"),
        ["answeredBefore"] = Say($"Commands answered before"),
        ["lostRatio"] = Say($"Part not seen"),
        ["frameRate"] = Say($"Frames"),
        ["bursts"] = Say($"Bursts"),
        ["busyMinutes"] = Say($"Busy minutes"),
        ["activations"] = Say($"Activations"),
        ["load"] = Say($"Load"),
        ["notHeard"] = Say($"Not heard"),
        ["unknownTime"] = Say($"Silence or a step of the clock, nobody knows which"),
        ["missedRatio"] = Say($"Missed ratio"),
        ["expectedFrames"] = Say($"Expected frames"),
        ["missedFrames"] = Say($"Missed frames"),
        ["activeFor"] = Say($"Active for"),
        ["longestBefore"] = Say($"Longest before"),
        ["limit"] = Say($"Limit"),
        ["period"] = Say($"Period"),
        ["penalty"] = Say($"Penalty"),
        ["dips"] = Say($"Dips"),
        ["lowestVolts"] = Say($"Lowest"),
        ["longestDip"] = Say($"Longest dip"),
        ["shortestVisible"] = Say($"Shortest that surely shows"),
        ["supplyVolts"] = Say($"Supply"),
        ["usualVolts"] = Say($"Usual supply"),
        ["lineHighVolts"] = Say($"CAN_H on average"),
        ["lineLowVolts"] = Say($"CAN_L on average"),
        ["commonModeVolts"] = Say($"Common mode"),
        ["dominantVolts"] = Say($"Dominant level"),
        ["swingVolts"] = Say($"From recessive to dominant"),
        ["usualSwingVolts"] = Say($"From recessive to dominant, usually"),
    };

    private static readonly Dictionary<string, Sentence> Reasons = new(StringComparer.Ordinal)
    {
        ["NmtWrongLength"] = Say($"network commands of the wrong length"),
        ["UnknownNmtCommand"] = Say($"network commands that CANopen doesn't define"),
        ["NmtAddressOutOfRange"] = Say($"network commands to an address that can't exist"),
        ["SyncWrongLength"] = Say($"SYNC messages of the wrong length"),
        ["TimeTooShort"] = Say($"time messages that are too short"),
        ["EmergencyTooShort"] = Say($"emergency messages that are too short"),
        ["ErrorControlEmpty"] = Say($"heartbeats without content"),
        ["UnknownState"] = Say($"heartbeats that name no state"),
        ["SdoTooShort"] = Say($"settings messages (SDO) that are too short"),
        ["SdoUnknownCommand"] = Say($"settings messages (SDO) with a command that CANopen doesn't define"),
        ["SdoUnexpectedRequest"] = Say($"requests (SDO) that go on with a transfer whose beginning was not heard"),
        ["SdoUnexpectedAnswer"] = Say($"answers (SDO) that nobody was heard asking for"),
        ["SdoToggleWrong"] = Say($"pieces of a transfer (SDO) of which one was lost or came twice"),
        ["SdoSequenceWrong"] = Say($"pieces of a block transfer (SDO) out of order"),
        ["PdoTooShort"] = Say($"process messages (PDO) shorter than what they should carry"),
        ["LssEmpty"] = Say($"messages for setting addresses (LSS) without content"),
    };

    public static Sentence Severity(string severity) => severity switch
    {
        "fault" => Say($"Fault"),
        "warning" => Say($"Warning"),
        "note" => Say($"Note"),
        _ => Named(Spaced(severity)),
    };

    /// <summary>A shape of its own for each severity, so that nothing depends on colour.</summary>
    public static string Shape(string severity) => severity switch
    {
        "fault" => "■",
        "warning" => "▲",
        _ => "●",
    };

    public static Sentence Cause(string cause) => Causes.TryGetValue(cause, out Sentence? words) ? words : Named(Capital(Spaced(cause)));

    /// <summary>What the node said of itself last; of one that is silent this is history.</summary>
    public static Sentence State(NodeReport node) => (node.State, WasSo: node.Present == false) switch
    {
        (null, _) => Say($"state unknown"),
        ("pre-operational", true) => Say($"was waiting to be started (pre-operational)"),
        ("pre-operational", _) => Say($"waiting to be started (pre-operational)"),
        ("operational", true) => Say($"was operational"),
        ("operational", _) => Say($"operational"),
        ("stopped", true) => Say($"was stopped"),
        ("stopped", _) => Say($"stopped"),
        ("initialising", true) => Say($"was initialising"),
        ("initialising", _) => Say($"initialising"),
        ({ } other, true) => Say($"was {Spaced(other)}"),
        ({ } other, _) => Named(Spaced(other)),
    };

    /// <summary>What our own adapter does or has done.</summary>
    public static Sentence ControllerState(string bus, string state, bool isListenOnly) => state switch
    {
        "error-active" => Say($"{bus}: our own adapter takes part normally (error-active)."),
        "error-warning" => Say($"{bus}: our own adapter has counted many errors (error-warning)."),
        "error-passive" when isListenOnly => Say($"{bus}: our own adapter has counted so many errors that it no longer signals them (error-passive); in listen-only mode that is no fault."),
        "error-passive" => Say($"{bus}: our own adapter has counted so many errors that it no longer signals them (error-passive)."),
        "bus-off" => Say($"{bus}: our own adapter went off the bus after too many errors (bus-off)."),
        "stopped" => Say($"{bus}: our own adapter is stopped."),
        "sleeping" => Say($"{bus}: our own adapter sleeps."),
        _ => Say($"{bus}: our own adapter is {Spaced(state)}."),
    };

    public static Sentence Protocol(string protocol) => protocol switch
    {
        "canopen" => Named("CANopen"),
        "none" or "unknown" or "auto" => Say($"not recognised"),
        _ => Named(protocol),
    };

    public static bool IsUnknownProtocol(string protocol) => protocol is "none" or "unknown" or "auto";

    public static Sentence BitRateSource(string source) => source switch
    {
        "interface" => Say($"as the interface is set"),
        "option" => Say($"as you said"),
        "site" => Say($"from the as-built record"),
        "data-sheet" => Say($"from the device configuration files"),
        "detected" => Say($"worked out from the traffic"),
        _ => Named(source),
    };

    /// <summary>In words, then percent, as people misread bare numbers.</summary>
    public static Sentence Confidence(double confidence) => confidence switch
    {
        >= 0.99 => Say($"practically certain ({Probability(confidence)})"),
        >= 0.95 => Say($"very sure ({Probability(confidence)})"),
        >= 0.80 => Say($"fairly sure ({Probability(confidence)})"),
        > 0.50 => Say($"more likely than not ({Probability(confidence)})"),
        0.50 => Say($"as likely as not ({Probability(confidence)})"),
        _ => Say($"only a suspicion ({Probability(confidence)})"),
    };

    /// <summary>Percent that never claims certainty by rounding.</summary>
    public static Sentence Probability(double ratio) => ratio switch
    {
        >= 1 => Say($"{100} %"),
        > 0.995 => Say($"over 99 %"),
        <= 0 => Say($"{0} %"),
        < 0.005 => Say($"under 1 %"),
        _ => Say($"{Math.Round(ratio * 100):0} %"),
    };

    /// <summary>Load and shares: one decimal below ten percent.</summary>
    public static Sentence Percent(double? ratio) => ratio switch
    {
        null => Say($"not known"),
        > 0 and < 0.0005 => Say($"under {0.1:0.#} %"),
        < 0.1 => Say($"{ratio.Value * 100:0.#} %"),
        _ => Say($"{ratio.Value * 100:0} %"),
    };

    public static Sentence Count(long count) => Say($"{count:N0}");

    public static Sentence Number(double value)
    {
        double size = Math.Abs(value);
        switch (size)
        {
            case 0:
                return Say($"{0}");
            case >= 1e15 or < 1e-4:
                string[] parts = value.ToString("0.##E+0", CultureInfo.InvariantCulture).Split('E');
                return Say($"{double.Parse(parts[0], CultureInfo.InvariantCulture):0.##} × 10^{int.Parse(parts[1], CultureInfo.InvariantCulture)}");
            case >= 1000:
                return Say($"{value:#,0}");
            case >= 100:
                return Say($"{value:0}");
            case >= 10:
                return Say($"{value:0.#}");
            case >= 1:
                return Say($"{value:0.##}");
            default:
                return Say($"{value:0.####}");
        }
    }

    /// <summary>A small ratio as "3 in a million".</summary>
    public static Sentence Rarity(double ratio) => ratio switch
    {
        >= 0.01 => Percent(ratio),
        >= 1e-3 => Say($"{Number(ratio * 1e3)} in a thousand"),
        >= 1e-8 => Say($"{Number(ratio * 1e6)} in a million"),
        > 0 => Say($"{Number(ratio * 1e9)} in a thousand million"),
        _ => Say($"{0}"),
    };

    /// <summary>"error rate" and "35 per hour (between 24.4 and 48.7, 95 % confidence)".</summary>
    public static (Sentence Name, Sentence Value) Measurement(MeasurementReport measurement)
    {
        bool isRatio = measurement.Unit is "ratio" || (measurement.Unit is "1" && IsRatio(measurement.Name));
        bool isTime = measurement.Unit is "s" && measurement.Value >= 0 && !(measurement.Low < 0);
        Sentence unit = isRatio || isTime ? Sentence.Empty : Units.TryGetValue(measurement.Unit, out Sentence? words) ? words : Named(measurement.Unit);
        Sentence value = unit.IsEmpty ? Value(measurement.Value) : Say($"{Value(measurement.Value)} {unit}");
        if (measurement.Low is { } low && measurement.High is { } high)
        {
            value = measurement.ConfidenceLevel is { } level
                ? Say($"{value} (between {Value(low)} and {Value(high)}, {Percent(level)} confidence)")
                : Say($"{value} (between {Value(low)} and {Value(high)})");
        }

        return (Measurements.TryGetValue(measurement.Name, out Sentence? name) ? name : Named(Capital(Spaced(measurement.Name))), value);

        Sentence Value(double number) => isTime ? Times.Span(number) : isRatio ? (Math.Abs(number) is > 0 and < 0.001 ? Rarity(number) : Percent(number)) : Number(number);
    }

    /// <summary>A count and a ratio both have the unit 1; the name tells which.</summary>
    private static bool IsRatio(string name) =>
        name is "load" || name.EndsWith("Ratio", StringComparison.Ordinal) || name.EndsWith("Share", StringComparison.Ordinal) || name.EndsWith("PerFrame", StringComparison.Ordinal);

    /// <summary>Where it is, in the order in which one looks for it: node, connection, line.</summary>
    public static IReadOnlyList<Sentence> Where(Report report, FindingReport finding)
    {
        List<Sentence> parts = [];
        if (finding.Node is { } node)
        {
            parts.Add(Node(report, finding.Interface, node));
        }

        if (finding.OtherNode is { } other)
        {
            parts.Add(Say($"with {Node(report, finding.Interface, other)}"));
        }

        if (finding.Nodes is { Count: > 0 } nodes)
        {
            const int Most = 12;
            Sentence names = Listed([.. nodes.Take(Most).Select(address => Node(report, finding.Interface, address))]);
            Sentence all = nodes.Count > Most ? Say($"{names} and {nodes.Count - Most} more") : names;
            parts.Add(nodes.Count == 1 ? all : Say($"{nodes.Count} nodes: {all}"));
        }

        if (finding.Input is { } input)
        {
            parts.Add(Say($"input {input}"));
        }

        if (finding.Output is { } output)
        {
            parts.Add(Say($"output {output}"));
        }

        if (finding.Segment is { Length: > 0 } segment)
        {
            parts.Add(Say($"cable {segment}"));
        }

        if (finding.Id is { Length: > 0 } id)
        {
            parts.Add(Say($"identifier {id}"));
        }

        if (parts.Count == 0)
        {
            parts.Add(finding.Interface is { } whole ? Say($"the bus on {whole}") : Say($"the whole site"));
        }
        else if (report.Buses.Count > 1 && finding.Interface is { } name)
        {
            parts.Add(Say($"on {name}"));
        }

        return parts;
    }

    public static Sentence Node(Report report, string? bus, int address)
    {
        foreach (BusReport candidate in report.Buses)
        {
            if (bus is null || candidate.Interface == bus)
            {
                foreach (NodeReport node in candidate.Nodes)
                {
                    if (node.Address == address)
                    {
                        return NodeName(node);
                    }
                }
            }
        }

        return NodeName(address, null);
    }

    public static Sentence NodeName(NodeReport node) => NodeName(node.Address, NameOf(node));

    public static Sentence NodeName(int address, string? name) => name is null ? Say($"node {address}") : Say($"node {address} “{name}”");

    /// <summary>The as-built record's name, or what the node calls itself, cut where it is too long; null where there is neither.</summary>
    public static string? NameOf(NodeReport node)
    {
        string? name = node.Name ?? node.Identity.Name;
        return string.IsNullOrWhiteSpace(name) ? null : Shortened(name);
    }

    public static string Shortened(string name) => name.Length <= Limits.ShownName ? name : name[..Limits.ShownName] + "…";

    /// <summary>
    /// Assurances as a reader needs them: one line for each thing that was looked for, with all whom it clears and the weakest bound among them; in the order of
    /// the report. Who was watched for less than half of what is usual among them has a line of its own: a node that fell silent early must not weaken the others.
    /// </summary>
    public static IReadOnlyList<(Sentence Statement, IReadOnlyList<Sentence> Subjects)> Assurances(Report report) =>
    [
        .. report.Assurances
            .GroupBy(assurance => (assurance.Statement, assurance.Unit, HasBound: assurance.Bound is not null))
            .SelectMany(group => Alike([.. group]))
            .Select(group => (Assurance([.. group]), (IReadOnlyList<Sentence>)[.. group.Select(assurance => assurance.SubjectSaid)])),
    ];

    private static IEnumerable<AssuranceReport[]> Alike(AssuranceReport[] group)
    {
        double usual = group.Select(assurance => assurance.Observed).Order().ElementAt((group.Length - 1) / 2);
        return group.GroupBy(assurance => assurance.Observed < usual / 2).OrderBy(part => part.Key).Select(part => part.ToArray());
    }

    /// <summary>"No error on its frames, in 240 frames or more of each: at most 1.2 % (95 % confidence)".</summary>
    private static Sentence Assurance(AssuranceReport[] group)
    {
        AssuranceReport weakest = group.MaxBy(assurance => assurance.Bound ?? -assurance.Observed)!;
        Sentence statement = Wordings.Capital(Sentence.Plain(weakest.Statement.TrimEnd('.')));
        Sentence looked = Looked(weakest);
        if (group.Length > 1)
        {
            looked = group.Any(assurance => assurance.Observed > weakest.Observed) ? Say($"{looked} or more of each") : Say($"{looked} of each");
        }

        if (weakest.Bound is not { } ratio)
        {
            return Say($"{statement}, in {looked}");
        }

        Sentence bound = weakest.Unit == "h" ? Say($"{Number(ratio)} an hour") : Rarity(ratio);
        return weakest.ConfidenceLevel is { } level
            ? Say($"{statement}, in {looked}: at most {bound} ({Percent(level)} confidence)")
            : Say($"{statement}, in {looked}: at most {bound}");
    }

    private static Sentence Looked(AssuranceReport assurance)
    {
        Sentence count = Number(assurance.Observed);

        // Rounded down, as nobody looked for longer than that; a ten-thousandth is what the document rounds to.
        double steps = assurance.Observed < 100 ? 10 : 1;
        double hours = Math.Floor((assurance.Observed + 1e-9) * steps) / steps;
        bool isOne = assurance.Observed == 1;
        return (assurance.Unit, isOne) switch
        {
            ("h", _) => Say($"{Number(hours)} h"),
            (null, true) => Say($"{count} time"),
            (null, _) => Say($"{count} times"),
            ("frame", true) => Say($"{count} frame"),
            ("frame", _) => Say($"{count} frames"),
            ("bit", true) => Say($"{count} bit"),
            ("bit", _) => Say($"{count} bits"),
            ("heartbeat", true) => Say($"{count} heartbeat"),
            ("heartbeat", _) => Say($"{count} heartbeats"),
            ({ } unit, true) => Say($"{count} {unit}"),
            ({ } unit, _) => Say($"{count} {unit + "s"}"),
        };
    }

    /// <summary>Two devices are at an address now, each of which hides the silence of the other.</summary>
    public static bool IsShared(Report report, BusReport? bus, int address) => report.Findings.Any(finding =>
        finding.Finding == Catalogue.DuplicateAddress.Name && finding.End is null && finding.Interface == bus?.Interface && finding.Node == address);

    /// <summary>When the silence of a node is noticed.</summary>
    public static Sentence Noticed(NodeReport node) => node switch
    {
        { SilenceNoticedWithinSeconds: { } seconds } => Say($"within {Times.Span(seconds)}"),
        { SilenceNoticedAfterCommands: { } commands } => Say($"after {commands} unanswered commands"),
        _ => Say($"can’t be noticed"),
    };

    public static bool IsUnnoticed(NodeReport node) => node is { SilenceNoticedWithinSeconds: null, SilenceNoticedAfterCommands: null };

    /// <summary>Why the silence of some nodes of a bus can’t be noticed; null where that of all can.</summary>
    public static Sentence? WhyUnnoticed(Report report, BusReport bus)
    {
        NodeReport[] mute = [.. bus.Nodes.Where(IsUnnoticed)];
        int shared = mute.Count(node => IsShared(report, bus, node.Address));
        return WhyUnnoticed(shared, mute.Length - shared);
    }

    /// <param name="shared">Nodes whose address two devices use.</param>
    /// <param name="others">Nodes that send nothing regular.</param>
    public static Sentence? WhyUnnoticed(int shared, int others) => (shared > 0, others > 0) switch
    {
        (false, false) => null,
        (true, false) => Say($"Where two devices use one address, each hides the silence of the other: it can’t be noticed."),
        (false, true) => Say($"Where a node sends nothing regular, nothing is missed when it stops: its silence can’t be noticed."),
        _ => Say($"Silence can’t be noticed where a node sends nothing regular, nor where two devices use one address: each hides the silence of the other."),
    };

    /// <summary>
    /// How often an identifier is sent. Where its period fills less than half of the time it comes in bursts, and the period is only that within one.
    /// Time in which its node wasn’t there doesn’t count: who fell silent kept its rhythm until then. Of two devices on one address the gaps have a mean that
    /// neither of them keeps, so only what is known of each is said.
    /// </summary>
    public static Sentence Every(Report report, IdentifierReport identifier)
    {
        if (identifier.PeriodSeconds is not { } period)
        {
            return Say($"at no fixed time");
        }

        BusReport? bus = report.Buses.FirstOrDefault(bus => bus.Identifiers.Contains(identifier));
        bool isShared = identifier.Node is int address && IsShared(report, bus, address);
        if (identifier.TwoPhases)
        {
            return isShared ? Say($"by two senders, each every {Times.Span(period)}") : Say($"in two phases, each every {Times.Span(period)}");
        }

        if (isShared)
        {
            return Say($"two devices use its address, so how often each sends it can’t be told");
        }

        Sentence every = identifier.PeriodJitterSeconds is >= 0.0001 and double jitter ? Say($"{Times.Span(period)} ± {Times.Span(jitter)}") : Times.Span(period);
        NodeReport? node = bus?.Nodes.FirstOrDefault(node => node.Address == identifier.Node);
        bool isBursts = (node?.FirstHeard ?? report.Source.Start) is { } start && (node?.LastHeard ?? report.Source.End) is { } end && identifier.Frames * period < 0.5 * end.SecondsSince(start);
        return isBursts ? Say($"in bursts, {every} apart") : Say($"every {every}");
    }

    /// <summary>Messages that couldn't be read, by why; the reasons are those of the CANopen decoder.</summary>
    public static Sentence Undecodable(string reason) => Reasons.TryGetValue(reason, out Sentence? words) ? words : Named(Spaced(reason));

    /// <summary>A count of things that this program counts.</summary>
    public static Sentence Amount(long count, string what) => what switch
    {
        "error" => Say(count, $"one error", $"{count:N0} errors"),
        "disturbance" => Say(count, $"one disturbance", $"{count:N0} disturbances"),
        "frame" => Say(count, $"one frame", $"{count:N0} frames"),
        "record" => Say(count, $"one record", $"{count:N0} records"),
        "message" => Say(count, $"one message", $"{count:N0} messages"),
        "node" => Say(count, $"one node", $"{count:N0} nodes"),
        "module" => Say(count, $"one module", $"{count:N0} modules"),
        "identifier" => Say(count, $"one identifier", $"{count:N0} identifiers"),
        "restart" => Say(count, $"one restart", $"{count:N0} restarts"),
        "fault" => Say(count, $"one fault", $"{count:N0} faults"),
        "warning" => Say(count, $"one warning", $"{count:N0} warnings"),
        _ when count == 1 => Named("one " + what),
        _ => Say($"{count:N0} {what + "s"}"),
    };

    /// <summary>errorRate, error-rate → error rate.</summary>
    public static string Spaced(string name)
    {
        StringBuilder text = new(name.Length + 8);
        for (int index = 0; index < name.Length; index++)
        {
            char character = name[index];
            if (character is '-' or '_')
            {
                text.Append(' ');
            }
            else if (char.IsAsciiLetterUpper(character) && index > 0 && char.IsAsciiLetterLower(name[index - 1]))
            {
                text.Append(' ').Append(char.ToLowerInvariant(character));
            }
            else
            {
                text.Append(character);
            }
        }

        return text.ToString();
    }

    public static string Capital(string text) => text.Length == 0 ? text : char.ToUpperInvariant(text[0]) + text[1..];
}
