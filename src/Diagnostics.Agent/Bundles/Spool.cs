using System.Buffers;

namespace Diagnostics.Agent.Bundles;

/// <summary>
/// Stands between the zip archive, which ends each of its files with a write that blocks, and a target that may only be written without blocking: holds what one file became and
/// hands it on. It can't seek, so the archive never asks for what is gone.
/// </summary>
internal sealed class Spool : Stream
{
    private readonly ArrayBufferWriter<byte> _held = new(1 << 16);

    public override bool CanRead => false;

    public override bool CanSeek => false;

    public override bool CanWrite => true;

    public override long Length => throw new NotSupportedException();

    public override long Position
    {
        get => throw new NotSupportedException();
        set => throw new NotSupportedException();
    }

    public async Task HandOnAsync(Stream target, CancellationToken cancellation)
    {
        await target.WriteAsync(_held.WrittenMemory, cancellation).ConfigureAwait(false);
        _held.ResetWrittenCount();
    }

    public override void Write(byte[] buffer, int offset, int count) => Write(buffer.AsSpan(offset, count));

    public override void Write(ReadOnlySpan<byte> buffer) => _held.Write(buffer);

    public override void Flush()
    {
    }

    public override int Read(byte[] buffer, int offset, int count) => throw new NotSupportedException();

    public override long Seek(long offset, SeekOrigin origin) => throw new NotSupportedException();

    public override void SetLength(long value) => throw new NotSupportedException();
}
