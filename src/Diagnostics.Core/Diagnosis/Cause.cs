namespace Diagnostics.Core.Diagnosis;

/// <summary>Causes as the contract names them. The report writes them in kebab case.</summary>
internal enum Cause
{
    AddressSetTwice,
    CableOpen,
    CableIntermittent,
    CableShort,
    TerminationMissing,
    TerminationExtra,
    SupplyWeak,
    GroundOffset,
    Interference,
    SwitchingInterference,
    BitRateWrong,
    ControllerFault,
    DeviceFault,
    DeviceRestartedBySupply,
    DeviceWatchdog,
    ContactWorn,
    ContactBounceSetting,
    MoistureOrLeakage,
    ButtonHeld,
    ConfigurationDiffers,
    CommandLoop,
    SenderAlone,
    Overload,
    AdapterLimit,
    Unknown,
}
