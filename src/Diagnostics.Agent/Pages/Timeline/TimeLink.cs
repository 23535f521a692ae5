using Diagnostics.Can;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages.Timeline;

/// <summary>The way from anything that has a moment to that moment on the time axis; none from a page in a file, which has no axis beside it.</summary>
internal static class TimeLink
{
    public static void Write(HtmlWriter page, PageModel model, Instant moment)
    {
        if (model.IsServed)
        {
            page.Add($" <a class=\"to-time\" href=\"{TimeQuery.Around(moment)}\">{Say($"On the time axis")}</a>");
        }
    }
}
