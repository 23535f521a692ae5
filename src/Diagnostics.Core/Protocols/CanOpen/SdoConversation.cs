using System.Buffers.Binary;
using Diagnostics.Can;

namespace Diagnostics.Core.Protocols.CanOpen;

/// <summary>How a frame ended the transfer it belongs to.</summary>
internal enum SdoEnd : byte
{
    None,
    Value,
    Abort,
}

/// <summary>
/// The transfer in progress on one node's default SDO channel, as a listener can follow it: expedited, segmented and block, both ways.
/// <code>
/// byte 0          1 2      3    4..7
/// command         index LE sub  value or size        initiate, abort
/// 000t nnnc       seven bytes of value               segment (t toggles, n bytes unused, c = last)
/// csss ssss       seven bytes of value               segment of a block (c = last, s = 1..127)
/// </code>
/// A new initiate request replaces whatever was open, as it does in the server. Source: CiA 301 as excerpted in public stack sources
/// (reference values 7.3); block transfer's bits from memory, checked against a recorded conversation.
/// </summary>
internal sealed class SdoConversation
{
    private const byte AbortCommand = 0x80;

    private readonly byte[] _value = new byte[CanOpenLimits.SdoValueBytes];
    private Phase _phase;
    private Instant _lastHeard = Instant.MinValue;
    private bool _toggle;
    private bool _isLast;
    private bool _hasHole;
    private int _sequence;
    private long _blockStart;
    private long _total;

    private enum Phase : byte
    {
        Idle,
        UploadAsked,
        UploadReady,
        UploadSegmentAsked,
        DownloadExpedited,
        DownloadAsked,
        DownloadReady,
        DownloadSegmentSent,
        BlockUploadAsked,
        BlockUploadReady,
        BlockUploadSegments,
        BlockUploadSent,
        BlockUploadEnding,
        BlockDownloadAsked,
        BlockDownloadSegments,
        BlockDownloadSent,
        BlockDownloadEnding,
    }

    /// <summary>Of the transfer or abort that ended last.</summary>
    public ushort Index { get; private set; }

    public byte SubIndex { get; private set; }

    public bool IsWrite { get; private set; }

    public uint AbortCode { get; private set; }

    /// <summary>Bytes transferred, which may be more than were kept.</summary>
    public long TotalBytes => _total;

    /// <summary>The first <see cref="CanOpenLimits.SdoValueBytes"/> of what was transferred.</summary>
    public ReadOnlySpan<byte> Value => _value.AsSpan(0, (int)Math.Min(_total, _value.Length));

    public DecodeOutcome Request(Instant time, ReadOnlySpan<byte> data, out SdoEnd end)
    {
        end = SdoEnd.None;
        if (data.IsEmpty)
        {
            return DecodeOutcome.SdoTooShort;
        }

        GiveUpStaleBlock(time);
        byte command = data[0];
        if (command == AbortCommand)
        {
            return Abort(data, out end);
        }

        if (_phase == Phase.BlockDownloadSegments)
        {
            return TakeBlockSegment(data);
        }

        return (command >> 5) switch
        {
            0 => RequestDownloadSegment(data),
            1 => RequestDownload(data),
            2 => RequestStart(data, Phase.UploadAsked, isWrite: false),
            3 => RequestUploadSegment(command),
            5 => RequestBlockUpload(data, out end),
            6 => (command & 1) == 0 ? RequestStart(data, Phase.BlockDownloadAsked, isWrite: true) : RequestBlockDownloadEnd(command),
            _ => DecodeOutcome.SdoUnknownCommand,
        };
    }

    public DecodeOutcome Answer(Instant time, ReadOnlySpan<byte> data, out SdoEnd end)
    {
        end = SdoEnd.None;
        if (data.IsEmpty)
        {
            return DecodeOutcome.SdoTooShort;
        }

        GiveUpStaleBlock(time);
        byte command = data[0];
        if (command == AbortCommand)
        {
            return Abort(data, out end);
        }

        if (_phase == Phase.BlockUploadSegments)
        {
            return TakeBlockSegment(data);
        }

        return (command >> 5) switch
        {
            0 => AnswerUploadSegment(data, out end),
            1 => AnswerDownloadSegment(command, out end),
            2 => AnswerUpload(data, out end),
            3 => AnswerDownload(data, out end),
            5 => AnswerBlockDownload(data, out end),
            6 => AnswerBlockUpload(data),
            _ => DecodeOutcome.SdoUnknownCommand,
        };
    }

    private static ushort IndexIn(ReadOnlySpan<byte> data) => BinaryPrimitives.ReadUInt16LittleEndian(data[1..]);

    /// <summary>Bytes of value in an expedited initiate frame: as said by n when s is set, otherwise what is there. -1 = fewer than said.</summary>
    private static int ExpeditedLength(ReadOnlySpan<byte> data)
    {
        int present = Math.Min(4, data.Length - 4);
        int said = (data[0] & 1) != 0 ? 4 - ((data[0] >> 2) & 3) : present;
        return said <= present ? said : -1;
    }

    private void GiveUpStaleBlock(Instant time)
    {
        if (_phase is Phase.BlockDownloadSegments or Phase.BlockUploadSegments && time - CanOpenLimits.SdoSilence > _lastHeard)
        {
            _phase = Phase.Idle;
        }

        _lastHeard = time;
    }

    private DecodeOutcome Abort(ReadOnlySpan<byte> data, out SdoEnd end)
    {
        end = SdoEnd.None;
        _phase = Phase.Idle;
        if (data.Length < 8)
        {
            return DecodeOutcome.SdoTooShort;
        }

        Index = IndexIn(data);
        SubIndex = data[3];
        AbortCode = BinaryPrimitives.ReadUInt32LittleEndian(data[4..]);
        end = SdoEnd.Abort;
        return DecodeOutcome.Understood;
    }

    private DecodeOutcome RequestStart(ReadOnlySpan<byte> data, Phase phase, bool isWrite)
    {
        if (data.Length < 4)
        {
            return DecodeOutcome.SdoTooShort;
        }

        Index = IndexIn(data);
        SubIndex = data[3];
        IsWrite = isWrite;
        _total = 0;
        _blockStart = 0;
        _sequence = 0;
        _toggle = false;
        _isLast = false;
        _hasHole = false;
        _phase = phase;
        return DecodeOutcome.Understood;
    }

    private DecodeOutcome RequestDownload(ReadOnlySpan<byte> data)
    {
        bool isExpedited = (data[0] & 2) != 0;
        DecodeOutcome outcome = RequestStart(data, isExpedited ? Phase.DownloadExpedited : Phase.DownloadAsked, isWrite: true);
        if (outcome == DecodeOutcome.Understood && isExpedited)
        {
            int length = ExpeditedLength(data);
            if (length < 0)
            {
                _phase = Phase.Idle;
                return DecodeOutcome.SdoTooShort;
            }

            Append(data.Slice(4, length));
        }

        return outcome;
    }

    private DecodeOutcome RequestDownloadSegment(ReadOnlySpan<byte> data)
    {
        if (_phase != Phase.DownloadReady)
        {
            return DecodeOutcome.SdoUnexpectedRequest;
        }

        return TakeSegment(data, Phase.DownloadSegmentSent);
    }

    private DecodeOutcome RequestUploadSegment(byte command)
    {
        if (_phase != Phase.UploadReady)
        {
            return DecodeOutcome.SdoUnexpectedRequest;
        }

        if (((command & 0x10) != 0) != _toggle)
        {
            _phase = Phase.Idle;
            return DecodeOutcome.SdoToggleWrong;
        }

        _phase = Phase.UploadSegmentAsked;
        return DecodeOutcome.Understood;
    }

    private DecodeOutcome RequestBlockUpload(ReadOnlySpan<byte> data, out SdoEnd end)
    {
        end = SdoEnd.None;
        switch (data[0] & 3)
        {
            case 0:
                return RequestStart(data, Phase.BlockUploadAsked, isWrite: false);
            case 1:
                return _phase == Phase.BlockUploadEnding ? Complete(out end) : DecodeOutcome.SdoUnexpectedRequest;
            case 2:
                return _phase == Phase.BlockUploadSegments
                    ? AcknowledgeBlock(data, Phase.BlockUploadSent)
                    : DecodeOutcome.SdoUnexpectedRequest;
            default:
                if (_phase != Phase.BlockUploadReady)
                {
                    return DecodeOutcome.SdoUnexpectedRequest;
                }

                _phase = Phase.BlockUploadSegments;
                return DecodeOutcome.Understood;
        }
    }

    private DecodeOutcome RequestBlockDownloadEnd(byte command)
    {
        if (_phase != Phase.BlockDownloadSent)
        {
            return DecodeOutcome.SdoUnexpectedRequest;
        }

        CutUnused(command);
        _phase = Phase.BlockDownloadEnding;
        return DecodeOutcome.Understood;
    }

    private DecodeOutcome AnswerUpload(ReadOnlySpan<byte> data, out SdoEnd end)
    {
        end = SdoEnd.None;
        if (data.Length < 4)
        {
            return DecodeOutcome.SdoTooShort;
        }

        bool isExpedited = (data[0] & 2) != 0;
        int length = isExpedited ? ExpeditedLength(data) : 0;
        if (length < 0)
        {
            return DecodeOutcome.SdoTooShort;
        }

        // A server that can't do block transfer may answer a block request with a plain one.
        bool isExpected = _phase is Phase.UploadAsked or Phase.BlockUploadAsked && Index == IndexIn(data) && SubIndex == data[3];
        if (!isExpected && !isExpedited)
        {
            return DecodeOutcome.SdoUnexpectedAnswer;
        }

        if (!isExpedited)
        {
            _phase = Phase.UploadReady;
            return DecodeOutcome.Understood;
        }

        // Such an answer stands for itself: it says what the object holds even when the request wasn't heard,
        // and a second answer to one request (two devices, one address) must not get lost.
        if (!isExpected && _phase != Phase.Idle)
        {
            return DecodeOutcome.SdoUnexpectedAnswer;
        }

        Index = IndexIn(data);
        SubIndex = data[3];
        IsWrite = false;
        _total = 0;
        _hasHole = false;
        Append(data.Slice(4, length));
        DecodeOutcome outcome = Complete(out end);
        return isExpected ? outcome : DecodeOutcome.SdoUnexpectedAnswer;
    }

    private DecodeOutcome AnswerUploadSegment(ReadOnlySpan<byte> data, out SdoEnd end)
    {
        end = SdoEnd.None;
        if (_phase != Phase.UploadSegmentAsked)
        {
            return DecodeOutcome.SdoUnexpectedAnswer;
        }

        DecodeOutcome outcome = TakeSegment(data, Phase.UploadReady);
        return outcome == DecodeOutcome.Understood && _isLast ? Complete(out end) : outcome;
    }

    private DecodeOutcome AnswerDownload(ReadOnlySpan<byte> data, out SdoEnd end)
    {
        end = SdoEnd.None;
        if (data.Length < 4)
        {
            return DecodeOutcome.SdoTooShort;
        }

        if (_phase is not (Phase.DownloadExpedited or Phase.DownloadAsked) || Index != IndexIn(data) || SubIndex != data[3])
        {
            return DecodeOutcome.SdoUnexpectedAnswer;
        }

        if (_phase == Phase.DownloadExpedited)
        {
            return Complete(out end);
        }

        _phase = Phase.DownloadReady;
        return DecodeOutcome.Understood;
    }

    private DecodeOutcome AnswerDownloadSegment(byte command, out SdoEnd end)
    {
        end = SdoEnd.None;
        if (_phase != Phase.DownloadSegmentSent)
        {
            return DecodeOutcome.SdoUnexpectedAnswer;
        }

        // The toggle kept is the one expected next, so the answer carries the other.
        if (((command & 0x10) != 0) == _toggle)
        {
            _phase = Phase.Idle;
            return DecodeOutcome.SdoToggleWrong;
        }

        if (_isLast)
        {
            return Complete(out end);
        }

        _phase = Phase.DownloadReady;
        return DecodeOutcome.Understood;
    }

    private DecodeOutcome AnswerBlockDownload(ReadOnlySpan<byte> data, out SdoEnd end)
    {
        end = SdoEnd.None;
        switch (data[0] & 3)
        {
            case 0:
                if (data.Length < 4)
                {
                    return DecodeOutcome.SdoTooShort;
                }

                if (_phase != Phase.BlockDownloadAsked || Index != IndexIn(data) || SubIndex != data[3])
                {
                    return DecodeOutcome.SdoUnexpectedAnswer;
                }

                _phase = Phase.BlockDownloadSegments;
                return DecodeOutcome.Understood;
            case 1:
                return _phase == Phase.BlockDownloadEnding ? Complete(out end) : DecodeOutcome.SdoUnexpectedAnswer;
            case 2:
                return _phase == Phase.BlockDownloadSegments
                    ? AcknowledgeBlock(data, Phase.BlockDownloadSent)
                    : DecodeOutcome.SdoUnexpectedAnswer;
            default:
                return DecodeOutcome.SdoUnknownCommand;
        }
    }

    private DecodeOutcome AnswerBlockUpload(ReadOnlySpan<byte> data)
    {
        if ((data[0] & 1) != 0)
        {
            if (_phase != Phase.BlockUploadSent)
            {
                return DecodeOutcome.SdoUnexpectedAnswer;
            }

            CutUnused(data[0]);
            _phase = Phase.BlockUploadEnding;
            return DecodeOutcome.Understood;
        }

        if (data.Length < 4)
        {
            return DecodeOutcome.SdoTooShort;
        }

        if (_phase != Phase.BlockUploadAsked || Index != IndexIn(data) || SubIndex != data[3])
        {
            return DecodeOutcome.SdoUnexpectedAnswer;
        }

        _phase = Phase.BlockUploadReady;
        return DecodeOutcome.Understood;
    }

    private DecodeOutcome TakeSegment(ReadOnlySpan<byte> data, Phase next)
    {
        int length = 7 - ((data[0] >> 1) & 7);
        if (data.Length < 1 + length)
        {
            _phase = Phase.Idle;
            return DecodeOutcome.SdoTooShort;
        }

        if (((data[0] & 0x10) != 0) != _toggle)
        {
            _phase = Phase.Idle;
            return DecodeOutcome.SdoToggleWrong;
        }

        Append(data.Slice(1, length));
        _toggle = !_toggle;
        _isLast = (data[0] & 1) != 0;
        _phase = next;
        return DecodeOutcome.Understood;
    }

    private DecodeOutcome TakeBlockSegment(ReadOnlySpan<byte> data)
    {
        int sequence = data[0] & 0x7F;
        if (sequence != _sequence + 1)
        {
            // The receiver ignores it too and acknowledges up to the last good one; the rest is sent again.
            return DecodeOutcome.SdoSequenceWrong;
        }

        if (data.Length < 8)
        {
            return DecodeOutcome.SdoTooShort;
        }

        _sequence = sequence;
        _total = _blockStart + ((sequence - 1) * 7L);
        Append(data.Slice(1, 7));
        _isLast = (data[0] & AbortCommand) != 0;
        return DecodeOutcome.Understood;
    }

    private DecodeOutcome AcknowledgeBlock(ReadOnlySpan<byte> data, Phase sent)
    {
        if (data.Length < 2)
        {
            return DecodeOutcome.SdoTooShort;
        }

        int acknowledged = data[1] & 0x7F;

        // More was acknowledged than was heard: frames were lost on our side, so the value has a hole and isn't handed on.
        bool isMissed = acknowledged > _sequence;
        _hasHole |= isMissed;
        bool isComplete = _isLast && acknowledged == _sequence;
        _total = _blockStart + (acknowledged * 7L);
        _blockStart = _total;
        _sequence = 0;
        _isLast = false;
        if (isComplete)
        {
            _phase = sent;
        }

        return isMissed ? DecodeOutcome.SdoSequenceWrong : DecodeOutcome.Understood;
    }

    private void CutUnused(byte command) => _total = Math.Max(0, _total - ((command >> 2) & 7));

    private void Append(ReadOnlySpan<byte> data)
    {
        if (_total < _value.Length)
        {
            int room = Math.Min(data.Length, _value.Length - (int)_total);
            data[..room].CopyTo(_value.AsSpan((int)_total));
        }

        _total += data.Length;
    }

    private DecodeOutcome Complete(out SdoEnd end)
    {
        _phase = Phase.Idle;
        end = _hasHole ? SdoEnd.None : SdoEnd.Value;
        return DecodeOutcome.Understood;
    }
}
