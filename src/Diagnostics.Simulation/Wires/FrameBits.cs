namespace Diagnostics.Simulation.Wires;

/// <summary>
/// The levels that a sender puts on the wire for one frame, start of frame to end of frame, stuff bits included; 0 = dominant, 1 = recessive.
/// Written for the simulation alone, so that its lengths owe nothing to the analyser's arithmetic. ISO 11898-1; CRC polynomial 4599h.
/// </summary>
internal sealed class FrameBits
{
    /// <summary>160 bits is the longest extended frame with intermission; some room beside it.</summary>
    private const int Room = 176;
    private const int CrcPolynomial = 0x4599;

    private readonly byte[] _levels = new byte[Room];
    private readonly bool[] _isStuff = new bool[Room];
    private int _runLevel;
    private int _runLength;
    private int _crc;

    public int Length { get; private set; }

    public int StuffBits { get; private set; }

    public int Crc { get; private set; }

    /// <summary>First position behind the arbitration field (identifier and RTR; with SRR and IDE in the extended format).</summary>
    public int ArbitrationEnd { get; private set; }

    public int AcknowledgeSlot { get; private set; }

    public byte this[int position] => _levels[position];

    public bool IsStuff(int position) => _isStuff[position];

    public void Encode(in WireFrame frame)
    {
        Length = 0;
        StuffBits = 0;
        _crc = 0;
        _runLevel = -1;
        _runLength = 0;

        Put(0);
        if (frame.IsExtended)
        {
            Put(frame.Id >> 18, 11);
            Put(1);
            Put(1);
            Put(frame.Id & 0x3FFFF, 18);
            Put(frame.IsRemote ? 1 : 0);
            ArbitrationEnd = Length;
            Put(0);
            Put(0);
        }
        else
        {
            Put(frame.Id, 11);
            Put(frame.IsRemote ? 1 : 0);
            ArbitrationEnd = Length;
            Put(0);
            Put(0);
        }

        Put(frame.DataLengthCode, 4);
        int count = frame.ByteCount;
        for (int i = 0; i < count; i++)
        {
            Put(frame[i], 8);
        }

        Crc = _crc;
        Put((uint)Crc, 15);
        if (_runLength == 5)
        {
            PutStuff();
        }

        PutPlain(1);
        AcknowledgeSlot = Length;
        for (int i = 0; i < 9; i++)
        {
            PutPlain(1);
        }
    }

    private void Put(uint value, int bits)
    {
        for (int i = bits - 1; i >= 0; i--)
        {
            Put((int)(value >> i) & 1);
        }
    }

    private void Put(int level)
    {
        if (_runLength == 5)
        {
            PutStuff();
        }

        int feedback = level ^ (_crc >> 14);
        _crc = (_crc << 1) & 0x7FFF;
        if (feedback != 0)
        {
            _crc ^= CrcPolynomial;
        }

        if (level == _runLevel)
        {
            _runLength++;
        }
        else
        {
            _runLevel = level;
            _runLength = 1;
        }

        PutPlain(level);
    }

    private void PutStuff()
    {
        _runLevel ^= 1;
        _runLength = 1;
        StuffBits++;
        _levels[Length] = (byte)_runLevel;
        _isStuff[Length++] = true;
    }

    private void PutPlain(int level)
    {
        _levels[Length] = (byte)level;
        _isStuff[Length++] = false;
    }
}
