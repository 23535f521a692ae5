using Diagnostics.Can;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Measuring;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Detectors;

/// <summary>A dip of the supply as evidence for what came behind it: modules that restarted or fell silent. Says nothing where the supply isn't measured or didn't dip.</summary>
internal static class DipEvidence
{
    /// <summary>Writes the row, and where chance doesn't explain the order lays the finding to the dip.</summary>
    /// <param name="finding">Of what happened.</param>
    /// <param name="bus">Whose supply.</param>
    /// <param name="time">When it shows.</param>
    /// <param name="what">What happened, as a whole sentence for the dip's finding, made from how long after.</param>
    /// <returns>Whether a dip stands before it more often than chance puts one there.</returns>
    public static bool AddDipBefore(this Finding finding, Bus bus, Instant time, Func<Sentence, Sentence> what)
    {
        (SupplyDips.Dip? found, bool isMoreThanChance) = bus.Dips.OnHappening(time);
        if (found is not { } dip)
        {
            return false;
        }

        Sentence after = Text.Seconds(time.SecondsSince(dip.Start));
        if (!isMoreThanChance)
        {
            finding.AddEvidence(time, Say($"The bus supply had dipped to {dip.LowestVolts:0.0} V {after} before, but it dips so often that one may lie there by chance: whether it is the reason can't be told."));
            return false;
        }

        finding.AddEvidence(dip.Start, Say($"The bus supply dipped to {dip.LowestVolts:0.0} V, {after} before this showed."));
        foreach (FindingKind kind in (ReadOnlySpan<FindingKind>)[Catalogue.SupplyDip, Catalogue.SupplyLow])
        {
            if (bus.Book.Find(kind, bus.Name, Subject.WholeBus) is { } leader && leader.LastEvidence >= dip.Start)
            {
                finding.ExplainedBy = leader.Key;
                leader.AddEvidence(time, what(after));
                break;
            }
        }

        return true;
    }
}
