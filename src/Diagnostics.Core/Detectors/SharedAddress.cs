using Diagnostics.Core.Diagnosis;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Errors that are, wholly or in part, the collisions of two devices on one address which another finding is about. Each trouble that was counted has its
/// say: one that ended as a collision does (<see cref="CollisionSignature"/>) speaks for the shared address, any other for the usual causes. Without such a
/// finding the signature proves nothing and the usual causes stand.
/// </summary>
internal static class SharedAddress
{
    /// <summary>From which share on the errors are the shared address's and nothing else's.</summary>
    private const double NearlyAll = 0.9;

    /// <param name="finding">Of the errors.</param>
    /// <param name="bus">Its bus.</param>
    /// <param name="shared">Two devices are found on this; null = on none that fits.</param>
    /// <param name="share">Part of the errors that fits, 0 to 1.</param>
    /// <param name="why">What speaks for it, made from what they share.</param>
    /// <param name="usual">The causes without it.</param>
    public static void Explain(this Finding finding, Bus bus, Subject? shared, double share, Func<Sentence, Sentence> why, params (Cause Cause, double Weight, Sentence Why)[] usual)
    {
        if (shared is null)
        {
            finding.ExplainedBy = null;
            finding.Causes = Advised(Causes.Of(usual));
            return;
        }

        Sentence place = DuplicateAddressDetector.Place(bus, shared);
        double all = usual.Sum(entry => entry.Weight);
        double before = usual.FirstOrDefault(entry => entry.Cause == Cause.AddressSetTwice).Weight;
        finding.ExplainedBy = share >= NearlyAll ? Finding.KeyOf(Catalogue.DuplicateAddress, bus.Name, shared) : null;
        finding.Causes = Advised(Causes.Of(
            [
                .. usual.Where(entry => entry.Cause != Cause.AddressSetTwice).Select(entry => entry with { Weight = entry.Weight * (1 - share) }),
                (Cause.AddressSetTwice, (before * (1 - share)) + (all * share), why(place)),
            ]))
            .Advise(
                Cause.AddressSetTwice,
                Say($"See the finding on {place}: unplug one of the two devices and listen on; then look at the address switches of both."),
                Say($"With one of the two unplugged these errors stop; the other one still answers."),
                Causes.LiveCabinet);

        IReadOnlyList<CauseReport> Advised(IReadOnlyList<CauseReport> causes) => finding.Subject.Node is null ? causes.AdviseTrunk() : causes;
    }
}
