using System.Drawing;
using Iot.Device.Graphics;

namespace Diagnostics.Agent.Boards.Signals;

/// <summary>
/// A picture that is black and stays so. The binding of the display (Iot.Device.Bindings 4.2.0) draws one to clear the display when it is opened, and refuses to be opened where nothing makes pictures; a library with native parts
/// only for that would be too much.
/// </summary>
internal sealed class BlankImage(int width, int height, PixelFormat format) : BitmapImage(width, height, width * sizeof(int), format)
{
    /// <summary>Must be called before a display is opened; again does no harm.</summary>
    public static void Register() => RegisterImageFactory(new Factory());

    public override void SetPixel(int x, int y, Color color)
    {
    }

    public override Color GetPixel(int x, int y) => Color.Black;

    public override Span<byte> AsByteSpan() => throw new NotSupportedException();

    public override void SaveToStream(Stream stream, ImageFileType format) => throw new NotSupportedException();

    public override IGraphics GetDrawingApi() => throw new NotSupportedException();

    protected override void Dispose(bool disposing)
    {
    }

    private sealed class Factory : IImageFactory
    {
        public BitmapImage CreateBitmap(int width, int height, PixelFormat pixelFormat) => new BlankImage(width, height, pixelFormat);

        public BitmapImage CreateFromStream(Stream file) => throw new NotSupportedException();
    }
}
