using System.Globalization;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Protocols.CanOpen;

namespace Diagnostics.Core.Reporting;

/// <summary>What happened, as one technician tells another.</summary>
internal static class EventWords
{
    public static string Of(BusEventKind kind, int node, int number, SiteNames names) => kind switch
    {
        BusEventKind.InputOn => names.InputName(node, number) + " became active",
        BusEventKind.InputOff => names.InputName(node, number) + " became inactive",
        BusEventKind.OutputOn => names.OutputName(node, number) + " was commanded on",
        BusEventKind.OutputOff => names.OutputName(node, number) + " was commanded off",
        BusEventKind.OutputReportedOn => names.OutputName(node, number) + " reports on",
        BusEventKind.OutputReportedOff => names.OutputName(node, number) + " reports off",
        BusEventKind.Started => names.Node(node) + " started",
        BusEventKind.State => $"{names.Node(node)} is {State((NodeState)number)}",
        BusEventKind.Command => $"{Command((NmtCommand)number)} was commanded to {(node == 0 ? "all nodes" : names.Node(node))}",
        BusEventKind.Emergency => string.Create(CultureInfo.InvariantCulture, $"{names.Node(node)} sent an emergency message: {CanOpenWords.Emergency((ushort)number)} (code {number:X4}h)"),
        _ => "an error on the wire",
    };

    private static string State(NodeState state) => state switch
    {
        NodeState.Initialising => "initialising",
        NodeState.Stopped => "stopped",
        NodeState.Operational => "operational",
        NodeState.PreOperational => "pre-operational",
        _ => string.Create(CultureInfo.InvariantCulture, $"in state {(int)state}"),
    };

    private static string Command(NmtCommand command) => command switch
    {
        NmtCommand.Start => "Start",
        NmtCommand.Stop => "Stop",
        NmtCommand.EnterPreOperational => "Enter pre-operational",
        NmtCommand.ResetNode => "Reset node",
        NmtCommand.ResetCommunication => "Reset communication",
        _ => string.Create(CultureInfo.InvariantCulture, $"An unknown network command ({(int)command})"),
    };
}
