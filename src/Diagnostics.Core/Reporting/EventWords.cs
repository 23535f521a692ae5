using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Protocols.CanOpen;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Reporting;

/// <summary>What happened, as one technician tells another.</summary>
internal static class EventWords
{
    public static Sentence Of(BusEventKind kind, int node, int number, SiteNames names) => kind switch
    {
        BusEventKind.InputOn => Say($"{names.InputName(node, number)} became active"),
        BusEventKind.InputOff => Say($"{names.InputName(node, number)} became inactive"),
        BusEventKind.OutputOn => Say($"{names.OutputName(node, number)} was commanded on"),
        BusEventKind.OutputOff => Say($"{names.OutputName(node, number)} was commanded off"),
        BusEventKind.OutputReportedOn => Say($"{names.OutputName(node, number)} reports on"),
        BusEventKind.OutputReportedOff => Say($"{names.OutputName(node, number)} reports off"),
        BusEventKind.Started => Say($"{names.Node(node)} started"),
        BusEventKind.State => (NodeState)number switch
        {
            NodeState.Initialising => Say($"{names.Node(node)} is initialising"),
            NodeState.Stopped => Say($"{names.Node(node)} is stopped"),
            NodeState.Operational => Say($"{names.Node(node)} is operational"),
            NodeState.PreOperational => Say($"{names.Node(node)} is pre-operational"),
            _ => Say($"{names.Node(node)} is in state {number}"),
        },
        BusEventKind.Command => Say($"{Command((NmtCommand)number)} was commanded to {(node == 0 ? Say($"all nodes") : names.Node(node))}"),
        BusEventKind.Emergency => Say($"{names.Node(node)} sent an emergency message: {CanOpenWords.Emergency((ushort)number)} (code {number:X4}h)"),
        _ => Say($"an error on the wire"),
    };

    private static Sentence Command(NmtCommand command) => command switch
    {
        NmtCommand.Start => Say($"Start"),
        NmtCommand.Stop => Say($"Stop"),
        NmtCommand.EnterPreOperational => Say($"Enter pre-operational"),
        NmtCommand.ResetNode => Say($"Reset node"),
        NmtCommand.ResetCommunication => Say($"Reset communication"),
        _ => Say($"An unknown network command ({(int)command})"),
    };
}
