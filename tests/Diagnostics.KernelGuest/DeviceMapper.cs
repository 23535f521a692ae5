using System.Buffers.Binary;
using System.Text;

namespace Diagnostics.KernelGuest;

/// <summary>
/// Disks made of other disks: set up with Debian's program dmsetup, while marks, of which there are many, go straight to the kernel (linux/dm-ioctl.h).
/// </summary>
internal static unsafe class DeviceMapper
{
    private const int HeaderBytes = 312;
    private const int NameOffset = 48;

    /// <summary>_IOWR(0xfd, 14, struct dm_ioctl): DM_TARGET_MSG.</summary>
    private const nuint TargetMessage = 0xC138_FD0E;

    private const int ReadWrite = 2;

    /// <summary>Sends a message to the target at the beginning of a device.</summary>
    internal static void Message(string device, string message)
    {
        byte[] text = Encoding.ASCII.GetBytes(message + "\0");
        byte[] buffer = new byte[HeaderBytes + sizeof(ulong) + text.Length];
        BinaryPrimitives.WriteInt32LittleEndian(buffer, 4);
        BinaryPrimitives.WriteInt32LittleEndian(buffer.AsSpan(12), buffer.Length);
        BinaryPrimitives.WriteInt32LittleEndian(buffer.AsSpan(16), HeaderBytes);
        Encoding.ASCII.GetBytes(device).CopyTo(buffer, NameOffset);
        text.CopyTo(buffer, HeaderBytes + sizeof(ulong));
        int control = GuestCalls.Checked(GuestCalls.open("/dev/mapper/control", ReadWrite), "open /dev/mapper/control");
        fixed (byte* argument = buffer)
        {
            GuestCalls.Checked(GuestCalls.ioctl(control, TargetMessage, argument), $"message '{message}' to {device}");
        }

        _ = GuestCalls.close(control);
    }

    /// <summary>Puts another target in the place of a device's, at once; what is under way is finished first.</summary>
    internal static void Load(string device, string table)
    {
        Programs.Run("dmsetup", "--noudevsync", "suspend", "--nolockfs", "--noflush", device);
        Programs.Run("dmsetup", "--noudevsync", "load", device, "--table", table);
        Programs.Run("dmsetup", "--noudevsync", "resume", device);
    }
}
