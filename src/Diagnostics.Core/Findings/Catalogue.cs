namespace Diagnostics.Core.Findings;

/// <summary>
/// Every finding this version can raise. The README's table is written from here (a test compares them).
/// </summary>
public static class Catalogue
{
    public static readonly FindingKind NoTraffic = new("bus.no-traffic", Severity.Fault, "nothing was heard for longer than the bus's own habit, or at all", "–");
    public static readonly FindingKind LoadHigh = new("bus.load-high", Severity.Warning, "load stays above 70 % (warning) or 90 % (fault) for 10 s", "–");
    public static readonly FindingKind Flood = new("bus.flood", Severity.Fault, "one identifier or one node sends far more than its habit, or takes most of the bus", "node, id");
    public static readonly FindingKind ErrorRate = new("bus.error-rate", Severity.Warning, "the bit error ratio lies wholly above 3.1e-9 (a production line); fault above 2.6e-7 (beside a welder)", "–");
    public static readonly FindingKind ErrorBurst = new("bus.error-burst", Severity.Warning, "errors cluster far beyond chance", "–");
    public static readonly FindingKind ErrorPassive = new("bus.error-passive", Severity.Fault, "our adapter's controller went error-passive while it takes part in the bus", "–");
    public static readonly FindingKind BusOff = new("bus.off", Severity.Fault, "our controller, or by inference a node, went bus-off", "node or –");
    public static readonly FindingKind NoAcknowledge = new("bus.no-acknowledge", Severity.Fault, "a sender repeats the same frame because nobody acknowledges", "node, id");
    public static readonly FindingKind BitRateMismatch = new("bus.bit-rate-mismatch", Severity.Fault, "only errors are heard, or a node's arrival brings steady errors", "–");
    public static readonly FindingKind BusNotSeen = new("bus.not-seen", Severity.Note, "frames were lost on our own side, so absence proves nothing for that time", "–");
    public static readonly FindingKind BusRestarted = new("bus.restarted", Severity.Note, "most of the site started at one moment: power came back, or all was reset uncommanded", "nodes");
    public static readonly FindingKind NodeSilent = new("node.silent", Severity.Fault, "a node (or a cyclic identifier) that was heard stopped", "node (or id)");
    public static readonly FindingKind NodeRestarted = new("node.restarted", Severity.Warning, "a node announced a restart that nobody commanded; several neighbours at once are one finding", "node or nodes");
    public static readonly FindingKind NodeUnstable = new("node.unstable", Severity.Fault, "a node comes and goes repeatedly", "node");
    public static readonly FindingKind DuplicateAddress = new("node.duplicate-address", Severity.Fault, "two devices use one address", "node (or id)");
    public static readonly FindingKind NodeErrors = new("node.errors", Severity.Warning, "errors fall on one node's frames far beyond its share of the traffic", "node");
    public static readonly FindingKind ReportsFault = new("node.reports-fault", Severity.Warning, "the node itself says it is faulty (an emergency message)", "node");
    public static readonly FindingKind NodeReplaced = new("node.replaced", Severity.Note, "another device answers at a known address (its serial number differs)", "node");
    public static readonly FindingKind FirmwareDiffers = new("node.firmware-differs", Severity.Note, "equal devices carry different firmware", "node");
    public static readonly FindingKind InputChatter = new("input.chatter", Severity.Warning, "one operation arrives as several changes close together, again and again", "node, input");
    public static readonly FindingKind InputFlapping = new("input.flapping", Severity.Warning, "an input keeps changing in a way that no person or its own habit explains", "node, input");
    public static readonly FindingKind InputStuck = new("input.stuck", Severity.Warning, "an input stays active far beyond a press, or far beyond its habit", "node, input");
    public static readonly FindingKind SupplyLow = new("supply.low", Severity.Fault, "the measured bus supply is below its limit (fault) or this site's habit (warning), and stays there", "–");
    public static readonly FindingKind SupplyDip = new("supply.dip", Severity.Warning, "the measured bus supply dipped below its limit for a moment", "–");
    public static readonly FindingKind LineLevel = new("line.level", Severity.Warning, "the measured line voltages left their range or this site's habit", "–");

    public static readonly IReadOnlyList<FindingKind> All =
    [
        NoTraffic, LoadHigh, Flood, ErrorRate, ErrorBurst, ErrorPassive, BusOff, NoAcknowledge, BitRateMismatch, BusNotSeen, BusRestarted,
        NodeSilent, NodeRestarted, NodeUnstable, DuplicateAddress, NodeErrors, ReportsFault, NodeReplaced, FirmwareDiffers,
        InputChatter, InputFlapping, InputStuck,
        SupplyLow, SupplyDip, LineLevel,
    ];
}
