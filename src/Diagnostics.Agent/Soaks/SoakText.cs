using System.Text;
using Diagnostics.Agent.Pages;
using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.Soaks;

/// <summary>The hand-over record as text, 80 columns.</summary>
internal static class SoakText
{
    public static string Render(SoakSheet sheet)
    {
        StringBuilder text = new();
        TextLayout.Wrap(text, string.Empty, sheet.Title.English);
        text.Append('\n');
        TextLayout.Wrap(text, string.Empty, sheet.Verdict.English);
        foreach (Sentence reason in sheet.Reasons)
        {
            TextLayout.Wrap(text, "- ", reason.English);
        }

        foreach (SoakPart part in sheet.Parts)
        {
            TextLayout.Heading(text, part.Heading.English);
            foreach ((Sentence? label, Sentence line) in part.Lines)
            {
                TextLayout.Wrap(text, "- ", label is null or { IsEmpty: true } ? line.English : $"{label}: {line}");
            }
        }

        return text.ToString().TrimEnd('\n');
    }
}
