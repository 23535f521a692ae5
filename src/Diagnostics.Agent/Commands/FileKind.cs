using System.Buffers.Binary;
using System.Runtime.InteropServices;

namespace Diagnostics.Agent.Commands;

/// <summary>
/// What a path leads to, found without opening it: to open a pipe waits until somebody writes into it. struct statx has the same layout on every processor
/// (linux/stat.h: stx_mode, 16 bits, at byte 28; 256 bytes in all), which struct stat has not.
/// </summary>
internal static partial class FileKind
{
    private const int RelativeToHere = -100;
    private const uint TypeOnly = 1;
    private const int Size = 256;
    private const int ModeOffset = 28;

    /// <summary>Why it isn't an ordinary file, as words after "it is"; null where it is one, or where there is nothing or nothing can be said.</summary>
    public static string? Oddity(string path)
    {
        Span<byte> facts = stackalloc byte[Size];
        if (statx(RelativeToHere, path, 0, TypeOnly, ref MemoryMarshal.GetReference(facts)) != 0)
        {
            return null;
        }

        return (BinaryPrimitives.ReadUInt16LittleEndian(facts[ModeOffset..]) & 0xF000) switch
        {
            0x8000 => null,
            0x4000 => "a directory",
            0x1000 => "a pipe",
            0x2000 or 0x6000 => "a device",
            0xC000 => "a socket",
            _ => "not an ordinary file",
        };
    }

    [LibraryImport("libc", StringMarshalling = StringMarshalling.Utf8)]
    private static partial int statx(int directory, string path, int flags, uint mask, ref byte facts);
}
