using Diagnostics.Can;

namespace Diagnostics.Core.Counting;

/// <summary>Everything kept about one identifier on one interface.</summary>
internal sealed class IdentifierState(CanId id)
{
    /// <summary>By then a slow bus has sent what a SYNC asked everybody for: 20 frames of 5 ms.</summary>
    public const long BehindSyncNanoseconds = 100_000_000;

    public CanId Id { get; } = id;

    /// <summary>On a CANopen bus: SDO, answer or request, by the predefined identifiers of CiA 301.</summary>
    public bool IsSdo { get; } = !id.IsExtended && id.Value >> 7 is 11 or 12;

    /// <summary>On a CANopen bus: boot-up, heartbeat or guarding, by the predefined identifiers of CiA 301.</summary>
    public bool IsErrorControl { get; } = !id.IsExtended && id.Value >> 7 == 14;

    public long Frames { get; set; }

    public double Bits { get; set; }

    public Instant FirstHeard { get; set; }

    public Instant LastHeard { get; set; } = Instant.MinValue;

    /// <summary>Address of the node that sends it, 0 where unknown.</summary>
    public byte Node { get; set; }

    public Cycle Cycle { get; } = new();

    /// <summary>Of its beats, or of its answers to guarding: how many never came.</summary>
    public BeatRecord Beats { get; } = new();

    /// <summary>Two senders show here as two phases.</summary>
    public PhaseTracks Tracks { get; } = new();

    /// <summary>It was asked for by a remote frame: another device may set its pace.</summary>
    public bool WasAskedFor { get; set; }

    /// <summary>How many of its frames came within <see cref="BehindSyncNanoseconds"/>.</summary>
    public long FramesBehindSync { get; set; }

    /// <summary>How many of its frames came right behind a command to the node that sends them (<see cref="NodeState.AnswerTime"/>).</summary>
    public long FramesBehindCommand { get; set; }

    /// <summary>It mostly confirms commands: when it comes is up to whoever gives them, so its pauses say nothing about its sender.</summary>
    public bool IsAnswer => FramesBehindCommand > 0 && FramesBehindCommand * 4 >= Frames * 3;

    // Length of the frame heard last: heartbeats and SYNC repeat, and counting stuff bits again would be waste.
    public ulong LastPayload { get; set; }

    public byte LastLength { get; set; } = byte.MaxValue;

    public double LastBits { get; set; }

    /// <summary>Frames since the last whole second, and in it.</summary>
    public int FramesThisSecond { get; set; }

    public int FramesLastSecond { get; set; }

    public double BitsThisSecond { get; set; }

    public double BitsLastSecond { get; set; }

    /// <summary>Most frames in any ordinary second so far: the habit that a flood is measured against.</summary>
    public int BusiestHabitSecond { get; set; }

    public void OnSecond()
    {
        FramesLastSecond = FramesThisSecond;
        BitsLastSecond = BitsThisSecond;
        FramesThisSecond = 0;
        BitsThisSecond = 0;
    }
}
