using System.Device.I2c;

namespace Diagnostics.Agent.Boards.Sensors;

/// <summary>A device on an I2C bus that others use, too.</summary>
internal sealed class GatedI2cDevice(I2cDevice device, I2cGate gate) : I2cDevice
{
    public override I2cConnectionSettings ConnectionSettings => device.ConnectionSettings;

    public override void Read(Span<byte> buffer)
    {
        long turn = gate.Enter();
        try
        {
            device.Read(buffer);
        }
        finally
        {
            gate.Leave(turn);
        }
    }

    public override void Write(ReadOnlySpan<byte> buffer)
    {
        long turn = gate.Enter();
        try
        {
            device.Write(buffer);
        }
        finally
        {
            gate.Leave(turn);
        }
    }

    public override void WriteRead(ReadOnlySpan<byte> writeBuffer, Span<byte> readBuffer)
    {
        long turn = gate.Enter();
        try
        {
            device.WriteRead(writeBuffer, readBuffer);
        }
        finally
        {
            gate.Leave(turn);
        }
    }

    protected override void Dispose(bool disposing)
    {
        if (disposing)
        {
            device.Dispose();
        }

        base.Dispose(disposing);
    }
}
