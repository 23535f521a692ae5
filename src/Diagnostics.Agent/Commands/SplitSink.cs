using Diagnostics.Can;
using Diagnostics.Core;

namespace Diagnostics.Agent.Commands;

/// <summary>One time line for three analyses: what lies before a moment goes to the first, the rest to the second, and all of it to the third.</summary>
internal sealed class SplitSink(Analyzer before, Analyzer after, Analyzer whole, Instant at) : IFrameSink
{
    private bool _hasBegun;
    private bool _isBehind;

    public void OnInterface(byte index, InterfaceFacts facts)
    {
        before.OnInterface(index, facts);
        after.OnInterface(index, facts);
        whole.OnInterface(index, facts);
    }

    public void OnFrame(in CanFrame frame)
    {
        whole.OnFrame(in frame);
        if (frame.Time < at)
        {
            _hasBegun = true;
            before.OnFrame(in frame);
            return;
        }

        // Both reach to the moment itself, even where the bus was quiet around it.
        if (!_isBehind && _hasBegun)
        {
            before.Advance(at);
            after.Advance(at);
        }

        _isBehind = true;
        after.OnFrame(in frame);
    }

    public void OnNotSeen(in NotSeen notSeen)
    {
        whole.OnNotSeen(in notSeen);

        // A gap over the moment itself is told to both, each its part of the time; nobody knows on which side the frames were lost.
        if (notSeen.Start < at)
        {
            before.OnNotSeen(notSeen with { End = Instant.Min(notSeen.End, at) });
        }

        if (notSeen.Start >= at || notSeen.End > at)
        {
            after.OnNotSeen(notSeen with { Start = Instant.Max(notSeen.Start, at) });
        }
    }
}
