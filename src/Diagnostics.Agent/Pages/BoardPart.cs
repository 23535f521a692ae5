using System.Globalization;
using Diagnostics.Agent.Boards;

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

        page.Literal("<section class=\"board\" id=\"board\"><h2>This board</h2>");
        if (model.Board is { } reading)
        {
            page.Literal("<ul>");
            foreach (string line in Lines(reading))
            {
                page.Add($"<li>{line}</li>");
            }

            page.Literal("</ul>");
        }

        BoardEvent[] latest = [.. model.BoardEvents.Reverse().Take(Limits.BoardEventsShown)];
        if (latest.Length > 0)
        {
            page.Add($"<details id=\"board-events\"><summary>What happened to it ({latest.Length})</summary><ul>");
            foreach (BoardEvent happened in latest)
            {
                page.Add($"<li><time datetime=\"{Times.Machine(happened.Time)}\">{model.Times.Full(happened.Time)}</time> {happened.Text}</li>");
            }

            page.Literal("</ul></details>");
        }

        page.Literal("</section>");
    }

    private static IEnumerable<string> Lines(BoardReading reading)
    {
        yield return reading.SupplyIsLow switch
        {
            null => "Supply: this board’s kernel doesn’t tell.",
            true => "Supply: too low now.",
            false => $"Supply: high enough now, the kernel says{(reading.SupplyWasLow == true ? ", but it was too low since this board started" : string.Empty)}.",
        };
        string heat = reading.Celsius is double celsius ? string.Create(CultureInfo.InvariantCulture, $", {celsius:0} °C") : string.Empty;
        yield return reading switch
        {
            { IsThrottled: true } => $"Processor: slowed now{heat}.",
            { IsThrottled: null, ThrottleCount: null } => $"Processor: this board’s kernel doesn’t tell whether it is slowed{heat}.",
            _ => $"Processor: not slowed{heat}.",
        };
        if (reading.FreeBytes is long free)
        {
            yield return $"Disk of the log: {Words.Count(free >> 20)} MB free{(reading.DiskIsReadOnly == true ? ", but it can only be read" : string.Empty)}.";
        }
    }
}
