using System.Device.I2c;
using Iot.Device.Graphics;
using Iot.Device.Ssd13xx;
using Iot.Device.Ssd13xx.Commands.Ssd1306Commands;

namespace Diagnostics.Agent.Boards.Signals;

/// <summary>A display of 128 × 32 points with an SSD1306, in the library's font of 5 × 8; the binding (Iot.Device.Bindings 4.2.0) sets up no other size.</summary>
internal sealed class SmallDisplay : IDisposable
{
    private const int Width = 128;
    private const int Height = 32;
    private const int GlyphWidth = 5;

    /// <summary>Of one transfer: 3 ms at 100 kbit/s, so that sensors on the same bus don't wait.</summary>
    private const int Piece = 32;

    private static readonly Font5x8 Font = new();

    private readonly Ssd1306 _part;
    private byte[] _shown = [];

    static SmallDisplay() => BlankImage.Register();

    /// <param name="device">Becomes the display's own.</param>
    public SmallDisplay(I2cDevice device) => _part = new(device, Width, Height);

    public void Show(IReadOnlyList<string> lines)
    {
        byte[] points = Points(lines);
        if (points.AsSpan().SequenceEqual(_shown))
        {
            return;
        }

        _part.SendCommand(new SetColumnAddress(0, Width - 1));
        _part.SendCommand(new SetPageAddress(PageAddress.Page0, PageAddress.Page3));
        for (int at = 0; at < points.Length; at += Piece)
        {
            _part.SendData(points.AsSpan(at, Piece));
        }

        _shown = points;
    }

    public void Dispose() => _part.Dispose();

    /// <summary>As the part has it: four pages of 128 columns, a byte each, the highest point in bit 0.</summary>
    internal static byte[] Points(IReadOnlyList<string> lines)
    {
        byte[] points = new byte[Width * Height / 8];
        for (int row = 0; row < Math.Min(lines.Count, DisplayText.Rows); row++)
        {
            for (int column = 0; column < Math.Min(lines[row].Length, DisplayText.Columns); column++)
            {
                Font.GetCharData(lines[row][column], out ReadOnlySpan<ushort> glyph);
                // The font has rows, its leftmost point in the highest of five bits.
                for (int x = 0; x < GlyphWidth; x++)
                {
                    for (int y = 0; y < glyph.Length; y++)
                    {
                        points[(row * Width) + (column * (GlyphWidth + 1)) + x] |= (byte)(((glyph[y] >> (GlyphWidth - 1 - x)) & 1) << y);
                    }
                }
            }
        }

        return points;
    }
}
