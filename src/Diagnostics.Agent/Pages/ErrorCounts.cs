using Diagnostics.Core.Findings;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages;

/// <summary>
/// How the counts of errors belong together, where a reader meets more than one of them. One trouble is counted three ways: as errors (what error messages
/// report), as disturbances (errors that follow each other within 50 ms), and as damaged frames (of each disturbance one, unless its frame came whole and was
/// refused). What stands with a node as its errors are disturbances that are laid to its frames.
/// </summary>
internal static class ErrorCounts
{
    /// <summary>Why fewer frames are called damaged than there were errors or disturbances.</summary>
    public static readonly Sentence DamagedFrames = Say($"A disturbance counts as one damaged frame, or as none where its frame came whole and a receiver refused it.");

    /// <summary>Behind the errors of a bus; empty where no other count of them is shown.</summary>
    /// <param name="report">Whose findings may count otherwise.</param>
    /// <param name="bus">Whose errors.</param>
    /// <param name="besideDisturbances">The disturbances stand beside them in any case.</param>
    public static Sentence OfBus(Report report, BusReport bus, bool besideDisturbances = false)
    {
        bool isCountedOtherwise = besideDisturbances || bus.Nodes.Count > 0 || Count(report, bus, Catalogue.ErrorRate);
        return Join(isCountedOtherwise ? Disturbances(bus) : Sentence.Empty, Count(report, bus, Catalogue.NodeErrors) ? DamagedFrames : Sentence.Empty);
    }

    /// <summary>Below the errors of nodes; null where there are none to be told apart.</summary>
    public static Sentence? OfNodes(BusReport bus)
    {
        if (bus.ErrorEpisodes is not (> 0 and long all))
        {
            return null;
        }

        long laid = bus.Nodes.Sum(node => node.ErrorsOnItsFrames);
        return laid == 0 ? Say(
                all,
                $"Errors of a node are the disturbances that hit its frames. The one of this bus is laid to no node.",
                $"Errors of a node are the disturbances that hit its frames. The {all:N0} of this bus are laid to no node.")
            : laid < all ? Say($"Errors of a node are the disturbances that hit its frames: together {laid:N0} of the {all:N0} of this bus. The others are laid to no node.")
            : Say(
                all,
                $"Errors of a node are the disturbances that hit its frames; here that is the only one of this bus.",
                $"Errors of a node are the disturbances that hit its frames; together they are the {all:N0} of this bus.");
    }

    private static Sentence Disturbances(BusReport bus)
    {
        long errors = PageRenderer.ErrorsHeard(bus);
        return bus.ErrorEpisodes is > 0 and long all && errors > all ? Say(
                all,
                $"The {errors:N0} errors came in one disturbance: what follows within 50 ms belongs to it, because a frame that was hit is repeated at once.",
                $"The {errors:N0} errors came in {all:N0} disturbances: what follows within 50 ms belongs to the same one, because a frame that was hit is repeated at once.")
            : Sentence.Empty;
    }

    private static bool Count(Report report, BusReport bus, FindingKind kind) =>
        report.Findings.Any(finding => finding.Finding == kind.Name && finding.Interface == bus.Interface);
}
