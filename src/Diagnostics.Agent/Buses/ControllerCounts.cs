namespace Diagnostics.Agent.Buses;

/// <summary>What the driver has counted since it was loaded; linux/can/netlink.h, struct can_device_stats.</summary>
public sealed record ControllerCounts(uint BusErrors, uint ErrorWarnings, uint ErrorPassives, uint BusOffs, uint ArbitrationsLost, uint Restarts);
