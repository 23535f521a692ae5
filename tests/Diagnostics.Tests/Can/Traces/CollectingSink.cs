using Diagnostics.Can;

namespace Diagnostics.Tests.Can.Traces;

/// <summary>Keeps all that a source hands over, in order.</summary>
internal sealed class CollectingSink : IFrameSink
{
    public List<CanFrame> Frames { get; } = [];

    public List<(byte Index, InterfaceFacts Facts)> Interfaces { get; } = [];

    public List<NotSeen> NotSeen { get; } = [];

    /// <summary>One line each, so that whole traces compare.</summary>
    public List<string> Story { get; } = [];

    public void OnInterface(byte index, InterfaceFacts facts)
    {
        Interfaces.Add((index, facts));
        Story.Add($"interface {index} {facts.Name}");
    }

    public void OnFrame(in CanFrame frame)
    {
        Frames.Add(frame);
        Story.Add($"{frame.Time} {frame.Interface} {frame.Id} {frame.ErrorClassBits:X} {frame.Flags} {frame.Length} {frame.DataLengthCode} {Convert.ToHexString(frame.Bytes)}");
    }

    public void OnNotSeen(in NotSeen notSeen)
    {
        NotSeen.Add(notSeen);
        Story.Add(notSeen.ToString());
    }
}
