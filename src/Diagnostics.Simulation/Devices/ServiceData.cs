using System.Text;
using Diagnostics.Simulation.Wires;

namespace Diagnostics.Simulation.Devices;

/// <summary>The SDO server of a module: expedited and segmented transfers, no block transfer. CiA 301.</summary>
internal sealed class ServiceData(Module module)
{
    private const uint NoObject = 0x0602_0000;
    private const uint NoSubIndex = 0x0609_0011;
    private const uint ReadOnly = 0x0601_0002;
    private const uint WrongLength = 0x0607_0010;
    private const uint WrongToggle = 0x0503_0000;
    private const uint UnknownCommand = 0x0504_0001;
    private const uint OutOfMemory = 0x0504_0005;

    /// <summary>A firmware image of the simulation is small: enough to be a long transfer, little enough to end.</summary>
    private const int DownloadLimit = 1 << 20;

    private byte[] _upload = [];
    private int _uploadPosition = -1;
    private bool _toggle;
    private int _downloaded = -1;
    private ushort _downloadIndex;
    private byte _downloadSub;
    private bool _hasImage;

    public void Reset()
    {
        _uploadPosition = -1;
        _downloaded = -1;
        _hasImage = false;
    }

    public void OnRequest(in WireFrame request)
    {
        if (request.ByteCount < 8)
        {
            return;
        }

        ushort index = (ushort)(request[1] | (request[2] << 8));
        byte sub = request[3];
        switch (request[0] >> 5)
        {
            case 2:
                StartUpload(index, sub);
                break;
            case 3:
                UploadSegment(request[0]);
                break;
            case 1:
                StartDownload(request, index, sub);
                break;
            case 0:
                DownloadSegment(request[0]);
                break;
            case 4:
                Reset();
                break;
            default:
                Abort(index, sub, UnknownCommand);
                break;
        }
    }

    private void StartUpload(ushort index, byte sub)
    {
        byte[]? value = Read(index, sub, out uint abort);
        if (value is null)
        {
            Abort(index, sub, abort);
        }
        else if (value.Length <= 4)
        {
            ulong data = 0;
            for (int i = 0; i < value.Length; i++)
            {
                data |= (ulong)value[i] << (8 * i);
            }

            Answer((byte)(0x43 | ((4 - value.Length) << 2)), index, sub, (uint)data);
        }
        else
        {
            _upload = value;
            _uploadPosition = 0;
            _toggle = false;
            Answer(0x41, index, sub, (uint)value.Length);
        }
    }

    private void UploadSegment(byte command)
    {
        if (_uploadPosition < 0 || ((command & 0x10) != 0) != _toggle)
        {
            _uploadPosition = -1;
            Abort(0, 0, WrongToggle);
            return;
        }

        int count = Math.Min(7, _upload.Length - _uploadPosition);
        ulong data = 0;
        for (int i = 0; i < count; i++)
        {
            data |= (ulong)_upload[_uploadPosition + i] << (8 * (i + 1));
        }

        _uploadPosition += count;
        bool last = _uploadPosition >= _upload.Length;
        data |= (byte)((_toggle ? 0x10 : 0) | ((7 - count) << 1) | (last ? 1 : 0));
        _toggle = !_toggle;
        if (last)
        {
            _uploadPosition = -1;
        }

        Send(data);
    }

    private void StartDownload(in WireFrame request, ushort index, byte sub)
    {
        bool expedited = (request[0] & 2) != 0;
        if (!expedited)
        {
            if (index != 0x1F50)
            {
                Abort(index, sub, NoObject);
                return;
            }

            _downloadIndex = index;
            _downloadSub = sub;
            _downloaded = 0;
            _toggle = false;
            Answer(0x60, index, sub, 0);
            return;
        }

        int length = (request[0] & 1) != 0 ? 4 - ((request[0] >> 2) & 3) : 4;
        uint value = (uint)(request.Data >> 32);
        uint abort = Write(index, sub, value, length);
        if (abort != 0)
        {
            Abort(index, sub, abort);
        }
        else
        {
            Answer(0x60, index, sub, 0);
        }
    }

    private void DownloadSegment(byte command)
    {
        if (_downloaded < 0 || ((command & 0x10) != 0) != _toggle)
        {
            _downloaded = -1;
            Abort(_downloadIndex, _downloadSub, WrongToggle);
            return;
        }

        _downloaded += 7 - ((command >> 1) & 7);
        if (_downloaded > DownloadLimit)
        {
            _downloaded = -1;
            Abort(_downloadIndex, _downloadSub, OutOfMemory);
            return;
        }

        Send((ulong)(0x20 | (_toggle ? 0x10 : 0)));
        _toggle = !_toggle;
        if ((command & 1) != 0)
        {
            _downloaded = -1;
            _hasImage = true;
        }
    }

    private byte[]? Read(ushort index, byte sub, out uint abort)
    {
        ModulePlan plan = module.Plan;
        abort = 0;
        byte[]? value = (index, sub) switch
        {
            (0x1000, 0) => Word(0x0191 | (module.InputByteCount > 0 ? 1u << 16 : 0) | (module.OutputByteCount > 0 ? 1u << 17 : 0)),
            (0x1001, 0) => [module.ErrorRegister],
            (0x1008, 0) => Encoding.ASCII.GetBytes(plan.ProductName),
            (0x100A, 0) => Encoding.ASCII.GetBytes(module.Firmware),
            (0x1017, 0) => Half(module.HeartbeatMilliseconds),
            (0x1018, 0) => [4],
            (0x1018, 1) => Word(plan.Vendor),
            (0x1018, 2) => Word(plan.Product),
            (0x1018, 3) => Word(plan.Revision),
            (0x1018, 4) => Word(plan.Serial),
            (0x1A00, _) => Mapping(sub, module.InputByteCount, 0x6000),
            (0x1A01, _) when plan.ReadsOutputsBack => Mapping(sub, module.OutputByteCount, 0x6200),
            (0x1600, _) => Mapping(sub, module.OutputByteCount, 0x6200),
            (0x6000, 0) => [(byte)module.InputByteCount],
            (0x6200, 0) => [(byte)module.OutputByteCount],
            (0x6000, _) when sub <= module.InputByteCount => [(byte)(module.Inputs >> (8 * (sub - 1)))],
            (0x6200, _) when sub <= module.OutputByteCount => [(byte)(module.Outputs >> (8 * (sub - 1)))],
            _ => null,
        };
        if (value is null)
        {
            abort = index is 0x1018 or 0x1A00 or 0x1A01 or 0x1600 or 0x6000 or 0x6200 ? NoSubIndex : NoObject;
        }

        return value;
    }

    private static byte[]? Mapping(byte sub, int count, ushort index) =>
        sub == 0 ? [(byte)count] : sub <= count ? Word(((uint)index << 16) | ((uint)sub << 8) | 8) : null;

    private uint Write(ushort index, byte sub, uint value, int length)
    {
        switch (index, sub)
        {
            case (0x1017, 0):
                if (length != 2)
                {
                    return WrongLength;
                }

                module.SetHeartbeat((int)(value & 0xFFFF));
                return 0;
            case (0x1F51, 1):
                if ((value & 0xFF) == 1 && _hasImage)
                {
                    module.Firmware = NextFirmware(module.Firmware);
                    module.After(20_000_000, module.Restart);
                }

                return 0;
            case (0x1000 or 0x1001 or 0x1008 or 0x100A or 0x1018 or 0x6000, _):
                return ReadOnly;
            default:
                return NoObject;
        }
    }

    /// <summary>Counts the last number up, so that 2.4.1 becomes 2.4.2.</summary>
    internal static string NextFirmware(string firmware)
    {
        int dot = firmware.LastIndexOf('.');
        return dot >= 0 && int.TryParse(firmware.AsSpan(dot + 1), System.Globalization.CultureInfo.InvariantCulture, out int last)
            ? string.Create(System.Globalization.CultureInfo.InvariantCulture, $"{firmware[..(dot + 1)]}{last + 1}")
            : firmware + ".1";
    }

    private static byte[] Word(uint value) => [(byte)value, (byte)(value >> 8), (byte)(value >> 16), (byte)(value >> 24)];

    private static byte[] Half(int value) => [(byte)value, (byte)(value >> 8)];

    private void Abort(ushort index, byte sub, uint code) => Answer(0x80, index, sub, code);

    private void Answer(byte command, ushort index, byte sub, uint value) =>
        Send(command | ((ulong)index << 8) | ((ulong)sub << 24) | ((ulong)value << 32));

    private void Send(ulong data) => module.Send(WireFrame.Of(0x580u + (uint)module.Plan.Address, 8, data));
}
