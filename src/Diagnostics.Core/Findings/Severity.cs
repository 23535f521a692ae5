namespace Diagnostics.Core.Findings;

/// <summary>Ordered worst first, as the report lists them.</summary>
public enum Severity
{
    /// <summary>Something doesn't work or is about to stop.</summary>
    Fault,

    /// <summary>Works, but shouldn't be left so.</summary>
    Warning,

    /// <summary>Worth knowing.</summary>
    Note,
}
