using Diagnostics.Core.Protocols.CanOpen;

namespace Diagnostics.Core.Protocols;

/// <summary>
/// Decides whether traffic is CANopen before anything is claimed about nodes. Evidence for: boot-ups, heartbeats with valid states, answered SDO
/// requests, network commands, commands that answer inputs (<see cref="AnsweredInputs"/>). Evidence against: frames in CANopen's ranges that CANopen doesn't allow. Decided once, when three points
/// speak for it and twice as many as against; proprietary traffic that touches a few identifiers doesn't get there.
/// </summary>
internal sealed class ProtocolGuess(string asked)
{
    public const int Needed = 3;

    private readonly bool _isLeftOpen = asked.Equals("auto", StringComparison.OrdinalIgnoreCase);
    private int _for;
    private int _against;

    public bool IsCanOpen { get; private set; } = asked.Equals("canopen", StringComparison.OrdinalIgnoreCase);

    public bool IsOpen => _isLeftOpen && !IsCanOpen;

    /// <summary>It is, or nothing has been decided.</summary>
    public bool MayBeCanOpen => IsCanOpen || IsOpen;

    public string Name => IsCanOpen ? "canopen" : "none";

    public void Count(DecodeOutcome outcome)
    {
        if (IsOpen && outcome is DecodeOutcome.NmtWrongLength or DecodeOutcome.UnknownNmtCommand or DecodeOutcome.NmtAddressOutOfRange
            or DecodeOutcome.ErrorControlEmpty or DecodeOutcome.UnknownState or DecodeOutcome.SyncWrongLength or DecodeOutcome.SdoUnknownCommand)
        {
            _against += 3;
        }
    }

    /// <summary>
    /// An emergency message of the right form speaks for CANopen: eight bytes, a class of code that exists, and the generic bit of the error register set
    /// exactly when there is an error (CiA 301). One that isn't speaks against it.
    /// </summary>
    public void CountEmergency(ushort code, byte register, int length)
    {
        bool isError = code >> 8 != 0;
        bool isPlausible = length == 8 && CanOpenWords.IsKnownEmergencyClass(code) && isError == ((register & 1) != 0);
        if (isPlausible)
        {
            Favour(Needed);
        }
        else if (IsOpen)
        {
            _against += 2;
        }
    }

    public void Favour(int points)
    {
        if (!IsOpen)
        {
            return;
        }

        _for += points;
        IsCanOpen = _for >= Needed && _for > 2 * _against;
    }
}
