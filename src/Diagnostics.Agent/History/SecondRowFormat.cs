using System.Text;
using Diagnostics.Can;

namespace Diagnostics.Agent.History;

/// <summary>
/// The payload of a second row. There are 86,400 a day of them for each interface and every byte of them reaches the card more than once, so they aren't JSON like all other payloads:
/// 30 bytes where JSON takes 250.
/// </summary>
/// <remarks>
/// <code>
/// version 1 | members that are there, a bit each 1 | interface, length and UTF-8 | then numbers of 7 bits a byte, low bits first:
/// seconds (ns) | frames | errors | nodes present | as far as they are there: mean load, peak load (millionths) | heard (ns) | bits | error episodes | restarts
/// </code>
/// The start is the record's own time. A load is cut to millionths, bits to whole ones. Rows of versions before this one are JSON and begin with a brace.
/// </remarks>
internal static class SecondRowFormat
{
    private const byte Version = 1;
    private const double Billion = 1e9;
    private const double Million = 1e6;

    public static byte[] Write(TrafficRow row)
    {
        double?[] optional = [row.LoadMean * Million, row.LoadPeak * Million, row.HeardSeconds * Billion, row.Bits, row.ErrorEpisodes, row.Restarts];
        using MemoryStream bytes = new();
        using BinaryWriter writer = new(bytes, Encoding.UTF8);
        writer.Write(Version);
        writer.Write((byte)optional.Select((value, place) => value is null ? 0 : 1 << place).Sum());
        writer.Write(row.Interface);
        writer.Write7BitEncodedInt64((long)Math.Round(row.Seconds * Billion));
        writer.Write7BitEncodedInt64(row.Frames);
        writer.Write7BitEncodedInt64(row.Errors);
        writer.Write7BitEncodedInt(row.NodesPresent);
        foreach (double value in optional.OfType<double>())
        {
            writer.Write7BitEncodedInt64((long)Math.Round(value));
        }

        writer.Flush();
        return bytes.ToArray();
    }

    /// <returns>Null where it isn't such a row, or one of a later version.</returns>
    public static TrafficRow? Read(ReadOnlySpan<byte> payload, Instant start)
    {
        if (payload is not [Version, var present, ..])
        {
            return null;
        }

        try
        {
            using BinaryReader reader = new(new MemoryStream(payload[2..].ToArray()), Encoding.UTF8);
            string name = reader.ReadString();
            double seconds = reader.Read7BitEncodedInt64() / Billion;
            long frames = reader.Read7BitEncodedInt64();
            long errors = reader.Read7BitEncodedInt64();
            int nodes = reader.Read7BitEncodedInt();
            long?[] optional = [.. Enumerable.Range(0, 6).Select(place => (present >> place & 1) == 0 ? (long?)null : reader.Read7BitEncodedInt64())];
            return new(start, seconds, name, optional[0] / Million, optional[1] / Million, frames, errors, nodes)
            {
                HeardSeconds = optional[2] / Billion,
                Bits = optional[3],
                ErrorEpisodes = optional[4],
                Restarts = optional[5],
            };
        }
        catch (Exception problem) when (problem is IOException or FormatException or ArgumentException)
        {
            return null;
        }
    }
}
