using Diagnostics.Core.Wording;
using System.Globalization;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.AsBuilt;

/// <summary>Something in a usable as-built record that its author may not have meant; line and column are 1-based.</summary>
public sealed record AsBuiltRemark(int Line, int Column, string Path, Sentence Text)
{
    /// <summary>As a whole sentence.</summary>
    public Sentence Said => Say($"As-built record, line {Line}, column {Column}, {Path}: {Text}.");

    /// <summary>Everything in one line.</summary>
    public override string ToString() =>
        string.Create(CultureInfo.InvariantCulture, $"line {Line}, column {Column}, {Path}: {Text}");
}
