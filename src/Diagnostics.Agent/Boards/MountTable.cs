using System.Text;

namespace Diagnostics.Agent.Boards;

/// <summary>
/// Reads /proc/self/mountinfo (man proc_pid_mountinfo): a line for each mount, the sixth word its own options, behind a lone hyphen the file system's type, its source and the file system's own options.
/// A disk that failed is seen in the last: the kernel made it read-only, whatever was mounted. Not every kernel says so: that of the system tests (6.1.176) refuses to write to an ext4 whose
/// journal failed, and goes on calling it writable; later ones call it emergency_ro or shutdown (fs/ext4/super.c, from memory). There the log's own trouble is the only sign.
/// </summary>
internal static class MountTable
{
    private static readonly string[] Unwritable = ["ro", "emergency_ro", "shutdown"];

    private const int Device = 2;
    private const int MountPoint = 4;
    private const int Options = 5;

    /// <summary>Whether the file system that holds a path can only be read; null where the table doesn't tell.</summary>
    /// <param name="table">All lines.</param>
    /// <param name="path">From the root.</param>
    public static bool? IsReadOnly(string table, string path)
    {
        bool? isReadOnly = null;
        int longest = -1;
        foreach (string[] words in table.Split('\n').Select(line => line.Split(' ')))
        {
            int hyphen = Array.IndexOf(words, "-");
            if (hyphen <= Options || words.Length <= hyphen + 3)
            {
                continue;
            }

            // What is mounted later on the same place hides what was there.
            string place = Unescaped(words[MountPoint]).TrimEnd('/');
            if (place.Length >= longest && (path == place || path.StartsWith(place + "/", StringComparison.Ordinal)))
            {
                longest = place.Length;
                isReadOnly = words[Options].Split(',').Contains("ro") || words[hyphen + 3].Split(',').Intersect(Unwritable).Any();
            }
        }

        return isReadOnly;
    }

    /// <summary>Disks that are mounted and can be written, without those that the system itself lies on.</summary>
    public static IReadOnlyList<Mount> Writable(string table)
    {
        List<Mount> mounts = [];
        List<string> own = [];
        foreach (string[] words in table.Split('\n').Select(line => line.Split(' ')))
        {
            int hyphen = Array.IndexOf(words, "-");
            if (hyphen <= Options || words.Length <= hyphen + 3)
            {
                continue;
            }

            string place = Unescaped(words[MountPoint]);
            if (place is "/" || place.StartsWith("/boot", StringComparison.Ordinal))
            {
                own.Add(WholeDisk(words[Device]));
            }

            if (!words[Options].Split(',').Contains("ro") && !words[hyphen + 3].Split(',').Intersect(Unwritable).Any()
                && !words[Device].StartsWith("0:", StringComparison.Ordinal))
            {
                mounts.Add(new(place, words[Device]));
            }
        }

        // For a hardened service the root directory can only be read, and the same disk is mounted once more where it may write.
        return [.. mounts.Where(mount => !own.Contains(WholeDisk(mount.Device)))];

        // Major number of the driver and the disk's block of sixteen (Documentation/admin-guide/devices.txt, from memory); cards have blocks of eight, which lie within one.
        static string WholeDisk(string device) => int.TryParse(device.Split(':')[^1], out int minor) ? $"{device.Split(':')[0]}:{minor / 16}" : device;
    }

    /// <summary>Space, tab, line feed and backslash stand as three octal digits.</summary>
    private static string Unescaped(string word)
    {
        StringBuilder text = new();
        for (int at = 0; at < word.Length; at++)
        {
            if (word[at] == '\\' && at + 3 < word.Length && word.AsSpan(at + 1, 3).IndexOfAnyExceptInRange('0', '7') < 0)
            {
                text.Append((char)(((word[at + 1] - '0') << 6) | ((word[at + 2] - '0') << 3) | (word[at + 3] - '0')));
                at += 3;
            }
            else
            {
                text.Append(word[at]);
            }
        }

        return text.ToString();
    }
}

/// <param name="Place">Where it is mounted.</param>
/// <param name="Device">Major and minor number of its disk or partition, as in 8:1.</param>
internal sealed record Mount(string Place, string Device);
