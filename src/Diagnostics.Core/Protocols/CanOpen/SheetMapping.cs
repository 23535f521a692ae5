using Diagnostics.Core.AsBuilt;

namespace Diagnostics.Core.Protocols.CanOpen;

/// <summary>
/// What data sheets say that one PDO of one node carries. <paramref name="Objects"/> null = they don't say; <paramref name="IsUndecided"/> = they can't be
/// believed, as they contradict each other or what is heard, so that nothing may be read. The device type tells whether a default is likely.
/// </summary>
internal readonly record struct SheetMapping(IReadOnlyList<MappedObject>? Objects, bool IsUndecided, uint? DeviceType);
