namespace Diagnostics.Agent.Activities;

/// <summary>An input or an output of a node, numbered as the object dictionary does.</summary>
internal readonly record struct Point(string Interface, int Node, PointKind Kind, int Number);

internal enum PointKind
{
    Input,
    Output,
}
