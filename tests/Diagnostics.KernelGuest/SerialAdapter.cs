using System.Runtime.InteropServices;
using System.Text;

namespace Diagnostics.KernelGuest;

/// <summary>
/// Plays a CAN adapter on a serial line behind the kernel's own driver for those (line discipline 17, N_SLCAN, linux/tty.h), so that a full
/// CAN interface with states and error messages stands there without hardware.
/// </summary>
internal sealed unsafe class SerialAdapter
{
    private const int ReadWriteNoTerminal = 0x102;
    private const int SetDiscipline = 0x5423;

    private readonly int _master;
    private readonly int _slave;
    private readonly List<string> _commands = [];
    private readonly Lock _lock = new();

    internal SerialAdapter()
    {
        _master = GuestCalls.Checked(GuestCalls.posix_openpt(ReadWriteNoTerminal), "posix_openpt");
        GuestCalls.Checked(GuestCalls.grantpt(_master), "grantpt");
        GuestCalls.Checked(GuestCalls.unlockpt(_master), "unlockpt");
        byte* path = stackalloc byte[64];
        if (GuestCalls.ptsname_r(_master, path, 64) != 0)
        {
            throw new IOException("ptsname_r failed");
        }

        _slave = GuestCalls.Checked(GuestCalls.open(Marshal.PtrToStringUTF8((nint)path)!, ReadWriteNoTerminal), "open of the slave end");
        MakeRaw(_master);
        MakeRaw(_slave);
        int discipline = 17;
        GuestCalls.Checked(GuestCalls.ioctl(_slave, SetDiscipline, &discipline), "ioctl(TIOCSETD)");
        new Thread(Read) { IsBackground = true }.Start();
    }

    /// <summary>What the kernel asked of the adapter so far, one command each; a frame to transmit would begin with t, T, r or R.</summary>
    internal IReadOnlyList<string> Commands
    {
        get
        {
            lock (_lock)
            {
                return [.. _commands];
            }
        }
    }

    internal void Say(string message)
    {
        byte[] bytes = Encoding.ASCII.GetBytes(message + "\r");
        fixed (byte* start = bytes)
        {
            if (GuestCalls.write(_master, start, (nuint)bytes.Length) != bytes.Length)
            {
                throw new IOException("the adapter could not write");
            }
        }
    }

    private static void MakeRaw(int descriptor)
    {
        // struct termios is 60 bytes.
        byte* settings = stackalloc byte[128];
        GuestCalls.Checked(GuestCalls.tcgetattr(descriptor, settings), "tcgetattr");
        GuestCalls.cfmakeraw(settings);
        GuestCalls.Checked(GuestCalls.tcsetattr(descriptor, 0, settings), "tcsetattr");
    }

    private void Read()
    {
        StringBuilder command = new();
        byte* buffer = stackalloc byte[256];
        while (GuestCalls.read(_master, buffer, 256) is > 0 and nint length)
        {
            for (nint i = 0; i < length; i++)
            {
                if (buffer[i] != '\r')
                {
                    command.Append((char)buffer[i]);
                    continue;
                }

                lock (_lock)
                {
                    _commands.Add(command.ToString());
                }

                command.Clear();

                // Every command is answered with a carriage return.
                Say("");
            }
        }
    }
}
