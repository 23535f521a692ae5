using Diagnostics.Agent.Bundles;
using Diagnostics.Agent.History;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Boards.Signals;

/// <summary>A bundle onto a mounted stick, by a button.</summary>
/// <param name="root">Where the system's files begin: <c>/</c>, or fixtures of a test.</param>
/// <param name="named">The directory that the settings name; null = the first removable disk that is mounted.</param>
/// <param name="bundles">Null where no log is kept.</param>
internal sealed class StickBundle(string root, string? named, LiveBundles? bundles)
{
    /// <summary>Writes it, flushed and checked.</summary>
    /// <returns>Whether it is there, and a whole sentence.</returns>
    public async Task<(bool IsDone, Sentence Text)> WriteAsync(CancellationToken cancellation)
    {
        if (bundles is null)
        {
            return (false, Say($"No bundle could be written by the button: no log is kept."));
        }

        if (Find() is not { } place)
        {
            return (false, named is null
                ? Say($"No bundle could be written by the button: no stick is mounted, or it can only be read.")
                : Say($"No bundle could be written by the button: no stick is mounted at {Named(named)}, or it can only be read."));
        }

        try
        {
            using LiveBundle? bundle = await bundles.TryBeginAsync(withoutInputs: false, cancellation).ConfigureAwait(false);
            if (bundle is null)
            {
                return (false, Say($"No bundle could be written by the button: another one is just being made."));
            }

            (string path, _) = await BundleFileWriter.WriteAsync(place, bundle.WriteAsync, cancellation).ConfigureAwait(false);
            return (true, Say($"A bundle was written onto the stick by the button, and checked: {Named(path)}. It shows when people were present."));
        }
        catch (Exception problem) when (problem is SettingException or HistoryException or IOException or UnauthorizedAccessException)
        {
            return (false, Say($"No bundle could be written by the button: {Named(SettingException.OneLine(problem.Message.TrimEnd('.')))}."));
        }
    }

    /// <summary>Where to; null where no stick is mounted. A directory on the board's own card is never taken for one.</summary>
    public string? Find()
    {
        string table;
        try
        {
            table = File.ReadAllText(Path.Combine(root, "proc/self/mountinfo"));
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException)
        {
            return null;
        }

        IReadOnlyList<Mount> mounts = MountTable.Writable(table);
        return named is not null
            ? mounts.Where(mount => mount.Place == named.TrimEnd('/')).Select(mount => mount.Place).FirstOrDefault()
            : mounts.Where(mount => IsRemovable(mount.Device)).Select(mount => mount.Place).FirstOrDefault();
    }

    /// <summary>
    /// <c>removable</c> of the whole disk, above that of the partition (Documentation/ABI/stable/sysfs-block), or a disk at USB, whose link in /sys leads through its controller. The board's own card may call itself
    /// removable, too: it holds the root directory or what is started from, and is left out by its place.
    /// </summary>
    private bool IsRemovable(string device)
    {
        DirectoryInfo link = new(Path.Combine(root, "sys/dev/block", device));
        try
        {
            if (!link.Exists || link.ResolveLinkTarget(returnFinalTarget: true)?.FullName is not { } disk)
            {
                return false;
            }

            return disk.Contains("/usb", StringComparison.Ordinal)
                || new[] { disk, Path.GetDirectoryName(disk)! }.Any(folder => File.Exists(Path.Combine(folder, "removable")) && File.ReadAllText(Path.Combine(folder, "removable")).Trim() == "1");
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException)
        {
            return false;
        }
    }
}
