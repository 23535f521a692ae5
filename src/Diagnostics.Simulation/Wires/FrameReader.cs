namespace Diagnostics.Simulation.Wires;

internal enum ReadResult
{
    Going,
    StuffError,
    FormError,
    CrcError,

    /// <summary>Valid for a receiver: no error up to the last but one bit of the end of frame. ISO 11898-1.</summary>
    Valid,

    /// <summary>The last bit of the end of frame passed.</summary>
    Complete,

    /// <summary>The last bit of the end of frame was dominant: no error, but an overload condition.</summary>
    Overload,
}

/// <summary>A receiver's view of a frame, fed level by level: takes out stuff bits, follows the fields, checks the CRC. ISO 11898-1.</summary>
internal sealed class FrameReader
{
    private const int CrcPolynomial = 0x4599;

    private int _runLevel;
    private int _runLength;
    private int _count;
    private int _crc;
    private int _received;
    private int _crcStart;
    private int _tail;
    private int _endOfFrame;
    private uint _id;
    private bool _extended;
    private bool _remote;
    private byte _length;
    private ulong _data;
    private bool _inTail;

    public FramePosition Position { get; private set; }

    /// <summary>The last byte of the identifier was read, for the place in an error message: bits of the identifier seen so far.</summary>
    public int IdentifierBits { get; private set; }

    public bool IsExtended => _extended;

    public bool CrcMatches => _received == _crc;

    /// <summary>The next level falls into the acknowledge slot.</summary>
    public bool AtAcknowledgeSlot => _inTail && _tail == 1;

    public WireFrame Frame => new(_id, _extended, _remote, _length, _data);

    public void Reset()
    {
        _runLevel = -1;
        _runLength = 0;
        _count = 0;
        _crc = 0;
        _received = 0;
        _crcStart = int.MaxValue;
        _tail = 0;
        _endOfFrame = 0;
        _id = 0;
        _extended = false;
        _remote = false;
        _length = 0;
        _data = 0;
        _inTail = false;
        IdentifierBits = 0;
        Position = FramePosition.StartOfFrame;
    }

    public ReadResult Push(int level)
    {
        if (_inTail)
        {
            return PushTail(level);
        }

        if (_runLength == 5)
        {
            if (level == _runLevel)
            {
                return ReadResult.StuffError;
            }

            _runLevel = level;
            _runLength = 1;
            EnterTailIfDone();
            return ReadResult.Going;
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

        Take(level);
        EnterTailIfDone();
        return ReadResult.Going;
    }

    /// <summary>A stuff bit can follow the last bit of the CRC sequence, so the tail waits for it.</summary>
    private void EnterTailIfDone()
    {
        if (_count >= _crcStart && _count - _crcStart == 15 && _runLength < 5)
        {
            _inTail = true;
            _tail = 0;
        }
    }

    private void Take(int level)
    {
        int index = _count++;
        if (index >= _crcStart)
        {
            Position = FramePosition.Crc;
            _received = (_received << 1) | level;
            return;
        }

        int feedback = level ^ (_crc >> 14);
        _crc = (_crc << 1) & 0x7FFF;
        if (feedback != 0)
        {
            _crc ^= CrcPolynomial;
        }

        if (index == 0)
        {
            Position = FramePosition.StartOfFrame;
        }
        else if (index <= 11)
        {
            Position = FramePosition.IdentifierBase;
            _id = (_id << 1) | (uint)level;
            IdentifierBits++;
        }
        else if (index == 12)
        {
            Position = FramePosition.RemoteOrSubstitute;
            _remote = level == 1;
        }
        else if (index == 13)
        {
            Position = FramePosition.IdentifierExtension;
            _extended = level == 1;
        }
        else if (_extended && index <= 31)
        {
            Position = FramePosition.IdentifierExtended;
            _id = (_id << 1) | (uint)level;
            IdentifierBits++;
        }
        else if (_extended && index == 32)
        {
            Position = FramePosition.RemoteExtended;
            _remote = level == 1;
        }
        else if (_extended && index == 33)
        {
            Position = FramePosition.Reserved1;
        }
        else if (index == (_extended ? 34 : 14))
        {
            Position = FramePosition.Reserved0;
        }
        else
        {
            TakeLengthOrData(index - (_extended ? 35 : 15), index, level);
        }
    }

    private void TakeLengthOrData(int offset, int index, int level)
    {
        if (offset < 4)
        {
            Position = FramePosition.DataLength;
            _length = (byte)((_length << 1) | level);
            if (offset == 3)
            {
                int bytes = _remote ? 0 : Math.Min((int)_length, 8);
                _crcStart = index + 1 + (8 * bytes);
            }

            return;
        }

        Position = FramePosition.Data;
        int bit = offset - 4;
        _data |= (ulong)level << ((bit / 8 * 8) + 7 - (bit % 8));
    }

    private ReadResult PushTail(int level)
    {
        switch (_tail++)
        {
            case 0:
                Position = FramePosition.CrcDelimiter;
                return level == 1 ? ReadResult.Going : ReadResult.FormError;
            case 1:
                Position = FramePosition.AcknowledgeSlot;
                return ReadResult.Going;
            case 2:
                Position = FramePosition.AcknowledgeDelimiter;
                return !CrcMatches ? ReadResult.CrcError : level == 1 ? ReadResult.Going : ReadResult.FormError;
            default:
                Position = FramePosition.EndOfFrame;
                _endOfFrame++;
                return _endOfFrame == 7
                    ? level == 1 ? ReadResult.Complete : ReadResult.Overload
                    : level == 0 ? ReadResult.FormError
                    : _endOfFrame == 6 ? ReadResult.Valid : ReadResult.Going;
        }
    }
}
