using System.Globalization;

namespace Diagnostics.Agent.Buses;

/// <summary>
/// A system call that failed: which, with which errno (number and name), and what a person can do about it.
/// The numbers are Linux's own (asm-generic/errno-base.h, errno.h); the same on x86-64 and on ARM.
/// </summary>
public sealed class SystemCallException : IOException
{
    internal const int InterruptedCall = 4;
    internal const int TryAgain = 11;
    internal const int NoSuchDevice = 19;
    internal const int NetworkDown = 100;

    internal SystemCallException(string call, string subject, int errorNumber)
        : base(Describe(call, subject, errorNumber)) => ErrorNumber = errorNumber;

    /// <summary>errno.</summary>
    public int ErrorNumber { get; }

    /// <summary>The symbol that manuals use, or <c>errno</c> where the number is not one that these calls return.</summary>
    public static string NameOf(int errorNumber) => Known(errorNumber).Name;

    private static string Describe(string call, string subject, int errorNumber)
    {
        (string name, string advice) = Known(errorNumber);
        string text = string.Create(CultureInfo.InvariantCulture, $"{subject}: {call} failed with {name} ({errorNumber})");
        return advice.Length == 0 ? text : $"{text}: {advice}";
    }

    private static (string Name, string Advice) Known(int errorNumber) => errorNumber switch
    {
        1 => ("EPERM", "the program lacks the right; run it as a user that may open network sockets"),
        2 => ("ENOENT", ""),
        4 => ("EINTR", ""),
        5 => ("EIO", "the disk or card fails; it may be worn out or loose"),
        9 => ("EBADF", ""),
        11 => ("EAGAIN", ""),
        12 => ("ENOMEM", "the board is out of memory"),
        13 => ("EACCES", "the program lacks the right; check the sandbox settings of its service unit (AF_CAN and AF_NETLINK must be allowed)"),
        16 => ("EBUSY", ""),
        19 => ("ENODEV", "there is no such interface; 'ip link' lists those that exist"),
        22 => ("EINVAL", "the kernel does not know this request; it may be older than this program expects"),
        23 => ("ENFILE", "the whole system has too many files open"),
        24 => ("EMFILE", "the program has too many files open"),
        28 => ("ENOSPC", "the disk is full"),
        30 => ("EROFS", "the file system is read-only, as the kernel makes it after a disk has failed"),
        92 => ("ENOPROTOOPT", "the kernel does not know this option; it may be older than this program expects"),
        93 => ("EPROTONOSUPPORT", "the kernel has no raw CAN sockets; load the module with 'modprobe can-raw'"),
        97 => ("EAFNOSUPPORT", "the kernel has no CAN support; load the modules with 'modprobe can' and 'modprobe can-raw'"),
        100 => ("ENETDOWN", "the interface is down; 'ip link set NAME up' brings it up"),
        105 => ("ENOBUFS", "more arrived than the receive buffer holds"),
        _ => ("errno", ""),
    };
}
