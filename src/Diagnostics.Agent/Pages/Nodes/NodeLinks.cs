using Diagnostics.Agent.Activities;

namespace Diagnostics.Agent.Pages.Nodes;

/// <summary>Addresses of the pages of nodes, inputs and outputs: /nodes/can0/5, /nodes/can0/5/inputs/1.</summary>
internal static class NodeLinks
{
    public const string Folder = "/nodes/";
    public const string Inputs = "inputs";
    public const string Outputs = "outputs";

    public static string Of(string bus, int node) => Invariant($"{Folder}{Uri.EscapeDataString(bus)}/{node}");

    public static string Of(Point point) => Invariant($"{Of(point.Interface, point.Node)}/{(point.Kind == PointKind.Input ? Inputs : Outputs)}/{point.Number}");

    /// <summary>False where it is none of these addresses.</summary>
    /// <param name="path">As asked for, escaped.</param>
    /// <param name="bus">Name of the interface.</param>
    /// <param name="node">Address of the node.</param>
    /// <param name="point">The input or output; null where it is the node itself.</param>
    public static bool TryRead(string path, out string bus, out int node, out Point? point)
    {
        bus = string.Empty;
        node = 0;
        point = null;
        string[] parts = path.StartsWith(Folder, StringComparison.Ordinal) ? path[Folder.Length..].Split('/') : [];
        if (parts.Length is not (2 or 4) || !TryNumber(parts[1], out node))
        {
            return false;
        }

        bus = Uri.UnescapeDataString(parts[0]);
        if (parts.Length == 2)
        {
            return true;
        }

        if (parts[2] is not (Inputs or Outputs) || !TryNumber(parts[3], out int number))
        {
            return false;
        }

        point = new(bus, node, parts[2] == Inputs ? PointKind.Input : PointKind.Output, number);
        return true;
    }

    private static bool TryNumber(string text, out int number) => int.TryParse(text, System.Globalization.NumberStyles.None, System.Globalization.CultureInfo.InvariantCulture, out number);

    private static string Invariant(FormattableString text) => FormattableString.Invariant(text);
}
