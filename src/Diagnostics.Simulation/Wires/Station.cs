namespace Diagnostics.Simulation.Wires;

/// <summary>Whatever sits behind a protocol controller and is told what that controller sees.</summary>
internal abstract class Station
{
    /// <summary><paramref name="time"/> is the end of the frame.</summary>
    public virtual void OnReceived(in WireFrame frame, long time)
    {
    }

    public virtual void OnSent(in WireFrame frame, long time)
    {
    }

    /// <summary>The controller found an error; <paramref name="position"/> says where in the frame.</summary>
    public virtual void OnError(WireError error, FramePosition position, bool whileSending, long time)
    {
    }

    /// <summary>After each change of an error counter.</summary>
    public virtual void OnCounters(long time)
    {
    }

    public virtual void OnBusOff(long time)
    {
    }

    public virtual void OnRecovered(long time)
    {
    }
}

internal enum WireError
{
    Bit,
    Stuff,
    Form,
    Crc,
    Acknowledge,
}

/// <summary>Where in a frame a controller stands.</summary>
internal enum FramePosition
{
    StartOfFrame,
    IdentifierBase,
    RemoteOrSubstitute,
    IdentifierExtension,
    IdentifierExtended,
    RemoteExtended,
    Reserved1,
    Reserved0,
    DataLength,
    Data,
    Crc,
    CrcDelimiter,
    AcknowledgeSlot,
    AcknowledgeDelimiter,
    EndOfFrame,
    Intermission,
    ErrorFlag,
    ErrorDelimiter,
}
