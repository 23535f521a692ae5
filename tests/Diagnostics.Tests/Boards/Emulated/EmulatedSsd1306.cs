namespace Diagnostics.Tests.Boards.Emulated;

/// <summary>SSD1306 with 128 × 32 points, written from its data sheet (commands from memory): as far as the points go, in horizontal addressing.</summary>
internal sealed class EmulatedSsd1306(EmulatedTime time) : EmulatedChip(time, 0x3C)
{
    private const int Width = 128;

    private readonly byte[] _points = new byte[Width * 8];
    private (int First, int Last) _columns = (0, Width - 1);
    private (int First, int Last) _pages = (0, 7);
    private int _column;
    private int _page;

    public bool IsOn { get; private set; }

    public int LongestTransfer { get; private set; }

    /// <summary>A row of the display as text: # lit, . dark.</summary>
    public string Row(int y) => string.Concat(Enumerable.Range(0, Width).Select(x => ((_points[(y / 8 * Width) + x] >> (y % 8)) & 1) != 0 ? '#' : '.'));

    protected override void OnWrite(byte register, ReadOnlySpan<byte> value)
    {
        LongestTransfer = Math.Max(LongestTransfer, value.Length + 1);
        if (register == 0x40)
        {
            foreach (byte point in value)
            {
                _points[(_page * Width) + _column] = point;
                _column = _column == _columns.Last ? _columns.First : _column + 1;
                _page = _column != _columns.First ? _page : _page == _pages.Last ? _pages.First : _page + 1;
            }

            return;
        }

        switch (value[0])
        {
            case 0x21:
                _columns = (value[1], value[2]);
                _column = value[1];
                break;
            case 0x22:
                _pages = (value[1], value[2]);
                _page = value[1];
                break;
            case 0xAE or 0xAF:
                IsOn = value[0] == 0xAF;
                break;
        }
    }

    protected override void OnRead(byte register, Span<byte> value) => value.Clear();
}
