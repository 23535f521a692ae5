using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages;

/// <summary>What holds for every job, whatever was found. General electrical practice; no source claimed.</summary>
internal static class Cautions
{
    /// <summary>Said once for all findings, because it holds for each cause.</summary>
    public static readonly Sentence Assumed = Say($"How likely each cause is, is an assumption: nobody has counted what breaks on buses like this one.");

    public static readonly Sentence[] Lines =
    [
        Say($"Relays and dimmers share their cabinets with mains. A quiet bus does not mean a dead cabinet: isolate, lock, and prove dead before you reach in."),
        Say($"Switch the bus supply off before you measure resistance. 60 Ω between CAN high and CAN low is two terminators, 120 Ω is one, 40 Ω is three."),
        Say($"Change one thing at a time, and listen again before the next."),
        Say($"Work on fixed wiring is for licensed people, under the codes that hold where you are."),
        Say($"This tool only listens. It switches nothing, and nothing that it says makes a circuit safe."),
    ];
}
