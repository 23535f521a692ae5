using Diagnostics.Agent.Boards;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages;

/// <summary>How the board itself is and was: a weak supply or a full disk looks like trouble of the bus.</summary>
internal static class BoardPart
{
    public static void Write(HtmlWriter page, PageModel model)
    {
        if (model.Board is null && model.BoardEvents.Count == 0)
        {
            return;
        }

        page.Add($"<section class=\"board\" id=\"board\"><h2>{Say($"This board")}</h2>");
        if (model.Board is { } reading)
        {
            page.Literal("<ul>");
            foreach (Sentence line in Lines(reading))
            {
                page.Add($"<li>{line}</li>");
            }

            page.Literal("</ul>");
        }

        BoardEvent[] latest = [.. model.BoardEvents.Reverse().Take(Limits.BoardEventsShown)];
        if (latest.Length > 0)
        {
            page.Add($"<details id=\"board-events\"><summary>{Say($"What happened to it ({latest.Length})")}</summary><ul>");
            foreach (BoardEvent happened in latest)
            {
                page.Add($"<li><time datetime=\"{Times.Machine(happened.Time)}\">{model.Times.Full(happened.Time)}</time> {happened.Said}</li>");
            }

            page.Literal("</ul></details>");
        }

        page.Literal("</section>");
    }

    private static IEnumerable<Sentence> Lines(BoardReading reading)
    {
        yield return reading.SupplyIsLow switch
        {
            null => Say($"Supply: this board’s kernel doesn’t tell."),
            true => Say($"Supply: too low now."),
            false when reading.SupplyWasLow == true => Say($"Supply: high enough now, the kernel says, but it was too low since this board started."),
            false => Say($"Supply: high enough now, the kernel says."),
        };
        Sentence slowed = reading switch
        {
            { IsThrottled: true } => Say($"Processor: slowed now"),
            { IsThrottled: null, ThrottleCount: null } => Say($"Processor: this board’s kernel doesn’t tell whether it is slowed"),
            _ => Say($"Processor: not slowed"),
        };
        yield return reading.Celsius is double celsius ? Say($"{slowed}, {celsius:0} °C.") : Say($"{slowed}.");
        if (reading.FreeBytes is long free)
        {
            yield return reading.DiskIsReadOnly == true
                ? Say($"Disk of the log: {free >> 20:N0} MB free, but it can only be read.")
                : Say($"Disk of the log: {free >> 20:N0} MB free.");
        }
    }
}
