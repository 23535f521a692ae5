using System.Device.I2c;

namespace Diagnostics.Tests.Boards.Emulated;

/// <summary>What may be wrong between the board and a chip.</summary>
internal enum Wiring
{
    Sound,

    /// <summary>Nobody acknowledges the address: as the kernel says it (EREMOTEIO), in the words of System.Device.Gpio.</summary>
    NoAcknowledge,

    /// <summary>The data line stays high behind the address: everything that is read is ones.</summary>
    AllOnes,

    /// <summary>A transfer doesn't come back until <see cref="EmulatedChip.Release"/>.</summary>
    Hangs,
}

/// <summary>A chip with registers behind a pointer, on an I2C bus of 100 kbit/s: nine bit times a byte (NXP UM10204).</summary>
internal abstract class EmulatedChip(EmulatedTime time, int address) : I2cDevice
{
    private static readonly TimeSpan ByteTime = TimeSpan.FromMicroseconds(90);

    private readonly ManualResetEventSlim _released = new();
    private byte _pointer;

    public Wiring Wiring { get; set; }

    /// <summary>Set when a transfer hangs.</summary>
    public ManualResetEventSlim IsHanging { get; } = new();

    public bool IsDisposed { get; private set; }

    public int Writes { get; private set; }

    public override I2cConnectionSettings ConnectionSettings { get; } = new(1, address);

    protected EmulatedTime Time => time;

    /// <summary>Lets go what hangs.</summary>
    public void Release()
    {
        Wiring = Wiring.Sound;
        _released.Set();
    }

    public override void Write(ReadOnlySpan<byte> buffer)
    {
        Transfer(buffer.Length);
        Writes++;
        _pointer = buffer[0];
        if (buffer.Length > 1)
        {
            OnWrite(_pointer, buffer[1..]);
        }
    }

    public override void Read(Span<byte> buffer)
    {
        Transfer(buffer.Length);
        if (Wiring == Wiring.AllOnes)
        {
            buffer.Fill(0xFF);
            return;
        }

        OnRead(_pointer, buffer);
    }

    public override void WriteRead(ReadOnlySpan<byte> writeBuffer, Span<byte> readBuffer)
    {
        Write(writeBuffer);
        Read(readBuffer);
    }

    protected abstract void OnWrite(byte register, ReadOnlySpan<byte> value);

    protected abstract void OnRead(byte register, Span<byte> value);

    protected override void Dispose(bool disposing)
    {
        IsDisposed = true;
        base.Dispose(disposing);
    }

    private void Transfer(int bytes)
    {
        time.Pass(ByteTime * (bytes + 1));
        if (Wiring == Wiring.Hangs)
        {
            IsHanging.Set();
            _released.Wait();
            throw new IOException("Error 110 performing I2C data transfer.");
        }

        if (Wiring == Wiring.NoAcknowledge)
        {
            throw new IOException("Error 121 performing I2C data transfer.");
        }
    }
}
