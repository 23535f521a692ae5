using System.Globalization;

namespace Diagnostics.Core.Protocols.CanOpen;

/// <summary>Why a data sheet can't be used: in which line (from 1), what is wrong and what to do about it.</summary>
public sealed record DataSheetError(int Line, string Problem, string Remedy)
{
    /// <summary>Everything in one line.</summary>
    public override string ToString() => string.Create(CultureInfo.InvariantCulture, $"line {Line}: {Problem}; {Remedy}");
}
