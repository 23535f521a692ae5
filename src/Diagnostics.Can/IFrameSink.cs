namespace Diagnostics.Can;

/// <summary>Where any source (interface, trace, simulated site) hands over what it heard, in the order in which it happened.</summary>
public interface IFrameSink
{
    /// <summary>An interface appeared or its facts changed; <paramref name="index"/> is what frames call it (<see cref="CanFrame.Interface"/>).</summary>
    void OnInterface(byte index, InterfaceFacts facts);

    /// <summary>Times never run backwards within one source.</summary>
    void OnFrame(in CanFrame frame);

    void OnNotSeen(in NotSeen notSeen);
}
