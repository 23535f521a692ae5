using System.Globalization;
using System.Text;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.Pages;

/// <summary>How the report's names and numbers are said to a person; the page and the text report share it. What isn't known here is said by its own name.</summary>
internal static class Words
{
    private static readonly Dictionary<string, string> Causes = new(StringComparer.Ordinal)
    {
        ["address-set-twice"] = "Two devices are set to the same address",
        ["cable-open"] = "A conductor is open",
        ["cable-intermittent"] = "A connection makes and breaks",
        ["cable-short"] = "Conductors touch each other or something else",
        ["termination-missing"] = "A terminator is missing",
        ["termination-extra"] = "There is a terminator too many",
        ["supply-weak"] = "The supply is weak or missing",
        ["ground-offset"] = "Grounds differ between parts of the site",
        ["interference"] = "Something disturbs the cable from outside",
        ["switching-interference"] = "Loads that are switched disturb the cable",
        ["bit-rate-wrong"] = "Something runs at another bit rate",
        ["controller-fault"] = "It is the site’s controller: its state or its settings",
        ["device-fault"] = "The device itself is faulty",
        ["device-restarted-by-supply"] = "The device restarted because its supply dipped",
        ["device-watchdog"] = "The device restarted itself after its program hung",
        ["contact-worn"] = "The contact is worn or dirty",
        ["contact-bounce-setting"] = "The input's filter is set too short for this contact",
        ["moisture-or-leakage"] = "Moisture or leakage at the input",
        ["button-held"] = "Something or someone holds the button",
        ["configuration-differs"] = "The configuration differs from what it should be",
        ["command-loop"] = "Two controls answer each other in a loop",
        ["sender-alone"] = "The sender is alone: nobody is there to acknowledge",
        ["overload"] = "More is sent than suits this bit rate",
        ["adapter-limit"] = "It is on our own side: clip, adapter or board",
        ["unknown"] = "Something else",
    };

    private static readonly Dictionary<string, string> Units = new(StringComparer.Ordinal)
    {
        ["1/h"] = "per hour",
        ["1/min"] = "per minute",
        ["1/s"] = "per second",
        ["1/d"] = "per day",
        ["bit/s"] = "bit/s",
        ["1"] = string.Empty,
        ["count"] = string.Empty,
        ["ohm"] = "Ω",
    };

    /// <summary>Measurements whose own name says too little; the others are said by their name.</summary>
    private static readonly Dictionary<string, string> Measurements = new(StringComparer.Ordinal)
    {
        ["silenceLimit"] = "Silent after",
        ["indexOfDispersion"] = "Clustering (1 = chance)",
        ["chatteredOperations"] = "Operations that chattered",
        ["operations"] = "Operations watched",
        ["shortestLevel"] = "Shortest pulse",
        ["bitErrorRatio"] = "Bits that were hit",
        ["errorEpisodes"] = "Disturbances",
        ["spoiltFrames"] = "Its frames that came damaged",
        ["errorsPerFrame"] = "Part of its frames that came damaged",
        ["trafficShare"] = "Share of the traffic",
        ["timesLeft"] = "Times it left",
        ["lostRatio"] = "Part not seen",
        ["frameRate"] = "Frames",
    };

    private static readonly Dictionary<string, string> Reasons = new(StringComparer.Ordinal)
    {
        ["NmtWrongLength"] = "network commands of the wrong length",
        ["UnknownNmtCommand"] = "network commands that CANopen doesn't define",
        ["NmtAddressOutOfRange"] = "network commands to an address that can't exist",
        ["SyncWrongLength"] = "SYNC messages of the wrong length",
        ["TimeTooShort"] = "time messages that are too short",
        ["EmergencyTooShort"] = "emergency messages that are too short",
        ["ErrorControlEmpty"] = "heartbeats without content",
        ["UnknownState"] = "heartbeats that name no state",
        ["SdoTooShort"] = "settings messages (SDO) that are too short",
        ["SdoUnknownCommand"] = "settings messages (SDO) with a command that CANopen doesn't define",
        ["SdoUnexpectedRequest"] = "requests (SDO) that go on with a transfer whose beginning was not heard",
        ["SdoUnexpectedAnswer"] = "answers (SDO) that nobody was heard asking for",
        ["SdoToggleWrong"] = "pieces of a transfer (SDO) of which one was lost or came twice",
        ["SdoSequenceWrong"] = "pieces of a block transfer (SDO) out of order",
        ["PdoTooShort"] = "process messages (PDO) shorter than what they should carry",
        ["LssEmpty"] = "messages for setting addresses (LSS) without content",
    };

    /// <summary>Why the errors of the nodes don't add up to those of the bus.</summary>
    public const string ErrorsOfNobody = "Some errors belong to no node in particular, so these need not add up to the errors of the bus.";

    public static string Severity(string severity) => severity switch
    {
        "fault" => "Fault",
        "warning" => "Warning",
        "note" => "Note",
        _ => Spaced(severity),
    };

    /// <summary>A shape of its own for each severity, so that nothing depends on colour.</summary>
    public static string Shape(string severity) => severity switch
    {
        "fault" => "■",
        "warning" => "▲",
        _ => "●",
    };

    public static string Cause(string cause) => Causes.TryGetValue(cause, out string? words) ? words : Capital(Spaced(cause));

    private static string State(string? state) => state switch
    {
        null => "state unknown",
        "pre-operational" => "waiting to be started (pre-operational)",
        _ => Spaced(state),
    };

    /// <summary>What the node said of itself last; of one that is silent this is history.</summary>
    public static string State(NodeReport node) => (node.Present == false && node.State is not null ? "was " : string.Empty) + State(node.State);

    /// <summary>Completes "our own adapter …".</summary>
    public static string ControllerState(string state) => state switch
    {
        "error-active" => "takes part normally (error-active)",
        "error-warning" => "has counted many errors (error-warning)",
        "error-passive" => "has counted so many errors that it no longer signals them (error-passive)",
        "bus-off" => "went off the bus after too many errors (bus-off)",
        "stopped" => "is stopped",
        "sleeping" => "sleeps",
        _ => "is " + Spaced(state),
    };

    public static string Protocol(string protocol) => protocol switch
    {
        "canopen" => "CANopen",
        "none" or "unknown" or "auto" => "not recognised",
        _ => protocol,
    };

    public static bool IsUnknownProtocol(string protocol) => protocol is "none" or "unknown" or "auto";

    public static string BitRateSource(string source) => source switch
    {
        "interface" => "as the interface is set",
        "option" => "as you said",
        "site" => "from the as-built record",
        "data-sheet" => "from the device configuration files",
        "detected" => "worked out from the traffic",
        _ => source,
    };

    /// <summary>In words, then percent, as people misread bare numbers.</summary>
    public static string Confidence(double confidence)
    {
        string words = confidence switch
        {
            >= 0.99 => "practically certain",
            >= 0.95 => "very sure",
            >= 0.80 => "fairly sure",
            >= 0.50 => "more likely than not",
            _ => "only a suspicion",
        };
        return $"{words} ({Probability(confidence)})";
    }

    /// <summary>Percent that never claims certainty by rounding.</summary>
    public static string Probability(double ratio) => ratio switch
    {
        >= 1 => "100 %",
        > 0.995 => "over 99 %",
        <= 0 => "0 %",
        < 0.005 => "under 1 %",
        _ => Math.Round(ratio * 100).ToString("0", CultureInfo.InvariantCulture) + " %",
    };

    /// <summary>Load and shares: one decimal below ten percent.</summary>
    public static string Percent(double? ratio) => ratio switch
    {
        null => "not known",
        > 0 and < 0.0005 => "under 0.1 %",
        < 0.1 => (ratio.Value * 100).ToString("0.#", CultureInfo.InvariantCulture) + " %",
        _ => (ratio.Value * 100).ToString("0", CultureInfo.InvariantCulture) + " %",
    };

    public static string Count(long count) => count.ToString("N0", CultureInfo.InvariantCulture);

    public static string Number(double value)
    {
        double size = Math.Abs(value);
        return size switch
        {
            0 => "0",
            >= 1e15 or < 1e-4 => value.ToString("0.##E+0", CultureInfo.InvariantCulture).Replace("E", " × 10^", StringComparison.Ordinal).Replace("^+", "^", StringComparison.Ordinal),
            >= 1000 => value.ToString("#,0", CultureInfo.InvariantCulture),
            >= 100 => value.ToString("0", CultureInfo.InvariantCulture),
            >= 10 => value.ToString("0.#", CultureInfo.InvariantCulture),
            >= 1 => value.ToString("0.##", CultureInfo.InvariantCulture),
            _ => value.ToString("0.####", CultureInfo.InvariantCulture),
        };
    }

    /// <summary>A small ratio as "3 in a million".</summary>
    public static string Rarity(double ratio) => ratio switch
    {
        >= 0.01 => Percent(ratio),
        >= 1e-3 => Number(ratio * 1e3) + " in a thousand",
        >= 1e-8 => Number(ratio * 1e6) + " in a million",
        > 0 => Number(ratio * 1e9) + " in a thousand million",
        _ => "0",
    };

    /// <summary>"error rate" and "35 per hour (between 24.4 and 48.7, 95 % confidence)".</summary>
    public static (string Name, string Value) Measurement(MeasurementReport measurement)
    {
        bool isRatio = measurement.Unit is "ratio" || (measurement.Unit is "1" && IsRatio(measurement.Name));
        bool isTime = measurement.Unit is "s" && measurement.Value >= 0 && !(measurement.Low < 0);
        string unit = isRatio || isTime ? string.Empty : Units.TryGetValue(measurement.Unit, out string? words) ? words : measurement.Unit;
        string value = Value(measurement.Value) + (unit.Length > 0 ? " " + unit : string.Empty);
        if (measurement.Low is { } low && measurement.High is { } high)
        {
            value += $" (between {Value(low)} and {Value(high)}" + (measurement.ConfidenceLevel is { } level ? $", {Percent(level)} confidence)" : ")");
        }

        return (Measurements.TryGetValue(measurement.Name, out string? name) ? name : Capital(Spaced(measurement.Name)), value);

        string Value(double number) => isTime ? Times.Span(number) : isRatio ? (Math.Abs(number) is > 0 and < 0.001 ? Rarity(number) : Percent(number)) : Number(number);
    }

    /// <summary>A count and a ratio both have the unit 1; the name tells which.</summary>
    private static bool IsRatio(string name) =>
        name is "load" || name.EndsWith("Ratio", StringComparison.Ordinal) || name.EndsWith("Share", StringComparison.Ordinal) || name.EndsWith("PerFrame", StringComparison.Ordinal);

    /// <summary>Where it is, in the order in which one looks for it: node, connection, line.</summary>
    public static IReadOnlyList<string> Where(Report report, FindingReport finding)
    {
        List<string> parts = [];
        if (finding.Node is { } node)
        {
            parts.Add(Node(report, finding.Interface, node));
        }

        if (finding.OtherNode is { } other)
        {
            parts.Add("with " + Node(report, finding.Interface, other));
        }

        if (finding.Nodes is { Count: > 0 } nodes)
        {
            const int Most = 12;
            parts.Add((nodes.Count == 1 ? string.Empty : $"{nodes.Count} nodes: ")
                + string.Join(", ", nodes.Take(Most).Select(address => Node(report, finding.Interface, address)))
                + (nodes.Count > Most ? $" and {nodes.Count - Most} more" : string.Empty));
        }

        if (finding.Input is { } input)
        {
            parts.Add("input " + input.ToString(CultureInfo.InvariantCulture));
        }

        if (finding.Output is { } output)
        {
            parts.Add("output " + output.ToString(CultureInfo.InvariantCulture));
        }

        if (finding.Segment is { Length: > 0 } segment)
        {
            parts.Add("cable " + segment);
        }

        if (finding.Id is { Length: > 0 } id)
        {
            parts.Add("identifier " + id);
        }

        if (parts.Count == 0)
        {
            parts.Add(finding.Interface is { } whole ? "the bus on " + whole : "the whole site");
        }
        else if (report.Buses.Count > 1 && finding.Interface is { } name)
        {
            parts.Add("on " + name);
        }

        return parts;
    }

    public static string Node(Report report, string? bus, int address)
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

        return "node " + address.ToString(CultureInfo.InvariantCulture);
    }

    public static string NodeName(NodeReport node)
    {
        string number = "node " + node.Address.ToString(CultureInfo.InvariantCulture);
        string? name = NameOf(node);
        return name is null ? number : $"{number} “{name}”";
    }

    /// <summary>The as-built record's name, or what the node calls itself, cut where it is too long; null where there is neither.</summary>
    public static string? NameOf(NodeReport node)
    {
        string? name = node.Name ?? node.Identity.Name;
        return string.IsNullOrWhiteSpace(name) ? null : name.Length <= Limits.ShownName ? name : name[..Limits.ShownName] + "…";
    }

    /// <summary>
    /// Assurances as a reader needs them: one line for each thing that was looked for, with all whom it clears and the weakest bound among them; in the order of
    /// the report.
    /// </summary>
    public static IReadOnlyList<(string Statement, IReadOnlyList<string> Subjects)> Assurances(Report report) =>
    [
        .. report.Assurances
            .GroupBy(assurance => (assurance.Statement, assurance.Unit, HasBound: assurance.Bound is not null))
            .Select(group => (Assurance([.. group]), (IReadOnlyList<string>)[.. group.Select(assurance => assurance.Subject)])),
    ];

    /// <summary>"No error on its frames, in 240 frames or more of each: at most 1.2 % (95 % confidence)".</summary>
    private static string Assurance(AssuranceReport[] group)
    {
        AssuranceReport weakest = group.MaxBy(assurance => assurance.Bound ?? -assurance.Observed)!;
        string looked = weakest.Unit switch
        {
            "h" => Number(Math.Round(weakest.Observed, 1)) + " h",
            null => Number(weakest.Observed) + (weakest.Observed == 1 ? " time" : " times"),
            string unit => Number(weakest.Observed) + " " + unit + (weakest.Observed == 1 ? "" : "s"),
        };
        StringBuilder text = new(Capital(weakest.Statement.TrimEnd('.')));
        text.Append(", in ").Append(looked);
        if (group.Length > 1)
        {
            text.Append(group.Any(assurance => assurance.Observed > weakest.Observed) ? " or more of each" : " of each");
        }

        if (weakest.Bound is { } bound)
        {
            text.Append(": at most ").Append(weakest.Unit == "h" ? Number(bound) + " an hour" : Rarity(bound));
            if (weakest.ConfidenceLevel is { } level)
            {
                text.Append(" (").Append(Percent(level)).Append(" confidence)");
            }
        }

        return text.ToString();
    }

    /// <summary>How often an identifier is sent. Where its period fills less than half of the time it comes in bursts, and the period is only that within one.</summary>
    public static string Every(Report report, IdentifierReport identifier)
    {
        if (identifier.PeriodSeconds is not { } period)
        {
            return "at no fixed time";
        }

        string every = Times.Span(period) + (identifier.PeriodJitterSeconds is >= 0.0001 and double jitter ? $" ± {Times.Span(jitter)}" : string.Empty);
        bool isBursts = report.Source.Start is { } start && report.Source.End is { } end && identifier.Frames * period < 0.5 * end.SecondsSince(start);
        return isBursts ? $"in bursts, {every} apart" : "every " + every;
    }

    /// <summary>Messages that couldn't be read, by why; the reasons are those of the CANopen decoder.</summary>
    public static string Undecodable(string reason) => Reasons.TryGetValue(reason, out string? words) ? words : Spaced(reason);

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
