using System.Globalization;
using Diagnostics.Core.Wording;

namespace Diagnostics.Core.AsBuilt;

/// <summary>
/// Why an as-built record can't be used: where (1-based line and column of the offending value, and its path within the document), what is wrong
/// and what to do about it.
/// </summary>
public sealed record AsBuiltError(int Line, int Column, string Path, Sentence Problem, Sentence Remedy)
{
    /// <summary>Everything in one line.</summary>
    public override string ToString() =>
        string.Create(CultureInfo.InvariantCulture, $"line {Line}, column {Column}, {Path}: {Problem.English}; {Remedy.English}");
}
