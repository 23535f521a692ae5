using System.Globalization;
using Diagnostics.Can;

namespace Diagnostics.Tests.Protocols.CanOpen;

/// <summary>Frames as text.</summary>
internal static class TextFrames
{
    /// <summary>705#05, 705#R, 12345678#00 (29 bit).</summary>
    public static CanFrame Parse(string text, long milliseconds)
    {
        string[] parts = text.Split('#');
        uint value = uint.Parse(parts[0], NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture);
        CanId id = parts[0].Length > 3 ? CanId.Extended(value) : CanId.Base(value);
        Instant time = new(milliseconds * 1_000_000);
        return parts[1].StartsWith('R') ? CanFrame.RemoteRequest(time, id, 0) : CanFrame.Classic(time, id, Convert.FromHexString(parts[1]));
    }

    /// <summary>"can0  70A   [1]  00" as a frame in the short form; null for another line.</summary>
    public static string? FromDisplay(string line)
    {
        string[] words = line.Split(' ', StringSplitOptions.RemoveEmptyEntries);
        int length = Array.FindIndex(words, word => word is ['[', _, ']']);
        return length < 1 ? null : words[length - 1] + "#" + string.Concat(words.Skip(length + 1).Take(words[length][1] - '0'));
    }
}
