using Diagnostics.Core.Detectors;
using Diagnostics.Core.Findings;

namespace Diagnostics.Core.Soak;

/// <summary>What a soak test doesn't forgive. Notes never fail it unless they are named.</summary>
public sealed record SoakRules
{
    /// <summary>Severities or names of the catalogue; one finding of these fails the test.</summary>
    public IReadOnlyList<string> Fails { get; init; } = [Severity.Fault.ToString().ToLowerInvariant(), Severity.Warning.ToString().ToLowerInvariant()];

    /// <summary>Errors per bit that are allowed: the test fails where the exact 95 % interval lies wholly above. Null = any. The usual one is that of an industrial production line (Ferreira et al., RTN 2004).</summary>
    public double? MostErrorRatio { get; init; } = ErrorRateDetector.ProductionLine;

    /// <summary>Restarts of nodes that nothing on the bus explains; null = any number.</summary>
    public int? MostRestarts { get; init; } = 0;

    /// <summary>Words that <see cref="Fails"/> may hold.</summary>
    public static IReadOnlyList<string> KnownWords { get; } =
        [.. Enum.GetNames<Severity>().Select(name => name.ToLowerInvariant()), .. Catalogue.All.Select(kind => kind.Name)];

    public bool FailsBy(SoakFinding finding) => Fails.Contains(finding.Severity) || Fails.Contains(finding.Finding);
}
