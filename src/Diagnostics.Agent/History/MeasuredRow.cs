using Diagnostics.Can;

namespace Diagnostics.Agent.History;

/// <summary>What sensors on the board measured in one minute.</summary>
/// <param name="Start">A whole minute of the line.</param>
/// <param name="Values">Quantities whose minute was over; others of the same minute may stand in another row.</param>
internal sealed record MeasuredRow(Instant Start, IReadOnlyList<MeasuredMinute> Values);

/// <param name="Quantity">As the report names it, in the unit that ends its name.</param>
/// <param name="Lowest">Of the windows that ended in it.</param>
/// <param name="Mean">Of them.</param>
/// <param name="Highest">Of them.</param>
internal sealed record MeasuredMinute(string Quantity, double Lowest, double Mean, double Highest);
