using System.Text;
using Diagnostics.Agent.Pages;

namespace Diagnostics.Agent.Soaks;

/// <summary>The hand-over record as text, 80 columns.</summary>
internal static class SoakText
{
    public static string Render(SoakSheet sheet)
    {
        StringBuilder text = new();
        TextReport.Wrap(text, string.Empty, sheet.Title);
        text.Append('\n');
        TextReport.Wrap(text, string.Empty, sheet.Verdict);
        foreach (string reason in sheet.Reasons)
        {
            TextReport.Wrap(text, "- ", reason);
        }

        foreach (SoakPart part in sheet.Parts)
        {
            TextReport.Heading(text, part.Heading);
            foreach ((string? label, string line) in part.Lines)
            {
                TextReport.Wrap(text, "- ", string.IsNullOrEmpty(label) ? line : $"{label}: {line}");
            }
        }

        return text.ToString().TrimEnd('\n');
    }
}
