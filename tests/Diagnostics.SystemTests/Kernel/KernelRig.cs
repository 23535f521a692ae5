using System.Diagnostics;
using System.Globalization;
using System.Text;

namespace Diagnostics.SystemTests.Kernel;

/// <summary>
/// A real Linux kernel with CAN, run as an ordinary process (Debian's package user-mode-linux): it sees the files of this machine read-only,
/// and one temporary folder, in which the commands run, to write to. Needs no privilege and no hardware. It proves that things work, never how fast.
/// </summary>
public static class KernelRig
{
    /// <summary>The packages that it needs; scripts/packages-for-tests lists them too.</summary>
    public static readonly string[] Packages = ["user-mode-linux", "iproute2", "e2fsprogs", "dmsetup", "systemd", "udev", "gcc"];

    /// <summary>Makes the disk on which a log is cut off.</summary>
    public const string MakeFileSystem = "/sbin/mkfs.ext4";

    private const string Kernel = "/usr/bin/linux.uml";
    private const string Manager = "/lib/systemd/systemd";
    private const string ModuleRoot = "/usr/lib/uml/modules";

    /// <summary>Far beyond the ten to thirty seconds that a run takes: it only ends a kernel that hangs.</summary>
    private static readonly TimeSpan DefaultLimit = TimeSpan.FromSeconds(300);

    private static readonly TimeSpan CutInterval = TimeSpan.FromMilliseconds(5);

    /// <summary>In the order of their needs.</summary>
    private static readonly string[] Modules =
        ["net/can/can.ko", "net/can/can-raw.ko", "drivers/net/can/dev/can-dev.ko", "drivers/net/can/vcan.ko", "drivers/net/can/slcan/slcan.ko"];

    /// <summary>Why it can't run here, and what to install; null when it can.</summary>
    public static string? SkipReason
    {
        get
        {
            string install = "install the packages " + string.Join(" and ", Packages);
            if (!File.Exists(Kernel))
            {
                return $"{Kernel} is missing: {install}";
            }

            if (!File.Exists("/usr/sbin/ip") && !File.Exists("/sbin/ip") && !File.Exists("/usr/bin/ip"))
            {
                return $"the program ip is missing: {install}";
            }

            if (!File.Exists(MakeFileSystem))
            {
                return $"{MakeFileSystem} is missing: {install}";
            }

            return Modules.Select(ModulePath).Any(path => path is null) ? $"{ModuleRoot} lacks CAN modules: {install}" : WholeRegisters.SkipReason;
        }
    }

    /// <summary>Why disks that are made of disks can't be had here; null when they can.</summary>
    public static string? DiskSkipReason =>
        SkipReason ?? (!File.Exists("/sbin/dmsetup") && !File.Exists("/usr/sbin/dmsetup") ? $"the program dmsetup is missing: install the packages {string.Join(" and ", Packages)}"
            : ModulePath("drivers/md/dm-log-writes.ko") is null || ModulePath("drivers/block/loop.ko") is null ? $"{ModuleRoot} lacks modules of disks" : null);

    /// <summary>Why no board with a service manager can be booted here; null when it can.</summary>
    public static string? ManagerSkipReason =>
        SkipReason ?? (!File.Exists(Manager) || !File.Exists("/lib/systemd/systemd-udevd") ? $"systemd or udev is missing: install the packages {string.Join(" and ", Packages)}"
            : !Environment.IsPrivilegedProcess ? "a board of this machine's own packages can be booted by root only, whose files they are" : null);

    /// <summary>The folder of the running .NET.</summary>
    public static string DotnetRoot => Path.GetFullPath(Path.Combine(Path.GetDirectoryName(typeof(object).Assembly.Location)!, "../../.."));

    /// <summary>A program that was built beside the tests, as a command for the guest: <c>Program("diagnostics") + " listen vcan0"</c>.</summary>
    public static string Program(string name) => $"dotnet '{Path.Combine(AppContext.BaseDirectory, name + ".dll")}'";

    /// <summary>
    /// Boots, brings up vcan0, runs the commands as one shell script until the first that fails, halts. Skips the test where there is no such kernel.
    /// Files that the commands leave in their folder come back.
    /// </summary>
    public static KernelRun Run(params string[] guestCommands) => Run(DefaultLimit, guestCommands);

    /// <inheritdoc cref="Run(string[])"/>
    public static KernelRun Run(TimeSpan limit, params string[] guestCommands)
    {
        if (SkipReason is { } reason)
        {
            Assert.Skip(reason);
        }

        string folder = Directory.CreateTempSubdirectory("diagnostics-kernel-").FullName;
        try
        {
            File.WriteAllText(Path.Combine(folder, "commands"), "set -e\n" + string.Join('\n', guestCommands) + "\n");
            string script = Path.Combine(folder, "init");
            File.WriteAllText(script, Script(folder));
            string console = Boot(folder, script, limit);
            string[] own = ["commands", "init", "exit", "output"];
            string exit = ReadOrEmpty(folder, "exit").Trim();
            string output = ReadOrEmpty(folder, "output");
            if (!int.TryParse(exit, NumberStyles.Integer, CultureInfo.InvariantCulture, out int code))
            {
                throw Broken(folder, console);
            }

            Dictionary<string, string> files = Directory.GetFiles(folder)
                .Where(path => !own.Contains(Path.GetFileName(path)))
                .ToDictionary(path => Path.GetFileName(path), File.ReadAllText, StringComparer.Ordinal);
            return new(code, output, console, files);
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    /// <summary>Path of a kernel module, by its place below the kernel's own folder.</summary>
    public static string Module(string module) => ModulePath(module) ?? throw new InvalidOperationException($"{ModuleRoot} lacks {module}");

    /// <summary>Makes a file that is a disk: an ext4 file system, or nothing.</summary>
    public static string MakeDisk(string folder, string name, int mebibytes, bool isFormatted = true)
    {
        string disk = Path.Combine(folder, name);
        using (FileStream file = File.Create(disk))
        {
            file.SetLength((long)mebibytes << 20);
        }

        if (isFormatted)
        {
            using Process format = Process.Start(new ProcessStartInfo(MakeFileSystem, ["-q", "-F", disk]))!;
            format.WaitForExit();
            Assert.Equal(0, format.ExitCode);
        }

        return disk;
    }

    /// <summary>Boots with disks (/dev/ubda, /dev/ubdb …), none of them mounted, and runs commands in the folder until the first that fails; all must succeed.</summary>
    /// <param name="folder">Shared with the guest; what is written there stays.</param>
    /// <param name="disks">Files.</param>
    /// <param name="commands">Run by the guest.</param>
    public static void RunWithDisks(string folder, IReadOnlyList<string> disks, params string[] commands)
    {
        string script = Path.Combine(folder, "init");
        File.Delete(Path.Combine(folder, "exit"));
        File.WriteAllText(Path.Combine(folder, "commands"), "set -e\nmkdir -p /run/disk\n" + string.Join('\n', commands) + "\n");
        File.WriteAllText(script, Script(folder, hasInterfaces: commands.Any(command => command.Contains("vcan", StringComparison.Ordinal))));
        string console = Boot(folder, script, DefaultLimit, disks);
        if (ReadOrEmpty(folder, "exit").Trim() != "0")
        {
            throw Broken(folder, console);
        }
    }

    /// <summary>
    /// Boots a board: this machine's own packages under systemd, with nothing else of it but a few lists in /etc, a disk mounted on /var/lib and vcan0; this machine's files are below
    /// /host. Runs commands as root in the folder, /share, until the first that fails.
    /// </summary>
    public static KernelRun RunBoard(TimeSpan limit, params string[] commands)
    {
        if (ManagerSkipReason is { } reason)
        {
            Assert.Skip(reason);
        }

        string folder = Directory.CreateTempSubdirectory("diagnostics-board-").FullName;
        string images = Directory.CreateTempSubdirectory("diagnostics-disk-").FullName;
        try
        {
            File.WriteAllText(Path.Combine(folder, "commands"), BoardCommands + string.Join('\n', commands) + "\n");
            File.WriteAllText(Path.Combine(folder, "board.target"), "[Unit]\nRequires=basic.target board.service\nAfter=basic.target\n");
            File.WriteAllText(Path.Combine(folder, "board.service"), """
                [Unit]
                Requires=basic.target
                After=basic.target
                [Service]
                Type=oneshot
                WorkingDirectory=/share
                ExecStart=/bin/sh -c '/bin/bash commands >output 2>&1; echo $? >exit'
                ExecStopPost=/bin/systemctl poweroff -ff

                """);
            string script = Path.Combine(folder, "init");
            File.WriteAllText(script, BoardScript(folder));
            string console = Boot(folder, script, limit, [MakeDisk(images, "disk.img", 1024)], mebibytes: 1536);
            return ReadOrEmpty(folder, "exit").Trim() == "0"
                ? new(0, ReadOrEmpty(folder, "output"), console, Directory.GetFiles(folder).ToDictionary(path => Path.GetFileName(path), File.ReadAllText, StringComparer.Ordinal))
                : throw Broken(folder, console);
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
            Directory.Delete(images, recursive: true);
        }
    }

    /// <summary>
    /// Boots with a disk, runs one command in the folder with the disk mounted on /run/disk, and ends the whole kernel when <paramref name="cuts"/> says so: what the guest had
    /// not flushed to its disk is gone, as when the plug is pulled. True = it was cut; false = the command ended before that, with code 0.
    /// </summary>
    /// <param name="folder">Shared with the guest; what is written there survives.</param>
    /// <param name="disk">A file with an ext4 file system.</param>
    /// <param name="command">Run by the guest.</param>
    /// <param name="cuts">Asked every few milliseconds.</param>
    public static bool RunOnDisk(string folder, string disk, string command, Func<bool> cuts)
    {
        string script = Path.Combine(folder, "init");
        File.Delete(Path.Combine(folder, "exit"));
        File.WriteAllText(Path.Combine(folder, "commands"), "set -e\nmkdir -p /run/disk\nmount -t ext4 /dev/ubda /run/disk\n" + command + "\numount /run/disk\n");
        File.WriteAllText(script, Script(folder, hasInterfaces: false));
        bool isCut = false;
        string console = Boot(folder, script, DefaultLimit, [disk], () => isCut = cuts());
        return isCut || (ReadOrEmpty(folder, "exit").Trim() == "0" ? false : throw Broken(folder, console));
    }

    private static InvalidOperationException Broken(string folder, string console) =>
        new($"The guest kernel did not get to the end of its commands.\nIts console:\n{console}\nThe commands' output:\n{ReadOrEmpty(folder, "output")}");

    private static string? ModulePath(string module) =>
        Directory.Exists(ModuleRoot)
            ? Directory.GetDirectories(ModuleRoot).Select(version => Path.Combine(version, "kernel", module)).FirstOrDefault(File.Exists)
            : null;

    private static string ReadOrEmpty(string folder, string name) =>
        File.Exists(Path.Combine(folder, name)) ? File.ReadAllText(Path.Combine(folder, name)) : "";

    private static string Script(string folder, bool hasInterfaces = true)
    {
        string interfaces = hasInterfaces
            ? $"""
                {Program("Diagnostics.KernelGuest")} modules {string.Join(' ', Modules.Select(ModulePath))}
                ip link set lo up
                ip link add dev vcan0 type vcan
                ip link set vcan0 up
                """
            : "";
        StringBuilder script = new();
        script.Append("export PATH='").Append(DotnetRoot).Append(":/usr/sbin:/usr/bin:/sbin:/bin'\n");
        script.Append("export DOTNET_ROOT='").Append(DotnetRoot).Append("' DOTNET_EnableDiagnostics=0 DOTNET_NOLOGO=1\n");
        script.Append(CultureInfo.InvariantCulture, $"""
            mount -t proc none /proc
            mount -t sysfs none /sys
            mount -t tmpfs none /run
            mkdir -p /run/tmp /run/shared /dev/pts /dev/shm
            mount -t devpts none /dev/pts
            mount -t tmpfs none /dev/shm
            export TMPDIR=/run/tmp HOME=/run/tmp
            mount -t hostfs none /run/shared -o '{folder}'
            cd /run/shared
            (
            set -e
            {interfaces}
            /bin/sh ./commands
            ) >output 2>&1 </dev/null
            echo $? >exit
            sync
            echo o >/proc/sysrq-trigger
            sleep 10

            """);
        return script.ToString();
    }

    /// <summary>What the board needs for its own part: .NET, of which only root might see this machine's; the CAN modules; the disk.</summary>
    private static string BoardCommands => $"""
        set -eux
        mkdir -p /opt/dotnet /etc/dotnet
        cp -a '/host{DotnetRoot}/host' '/host{DotnetRoot}/shared' '/host{DotnetRoot}/dotnet' /opt/dotnet/
        echo /opt/dotnet >/etc/dotnet/install_location
        export PATH=/opt/dotnet:/usr/sbin:/usr/bin:/sbin:/bin DOTNET_EnableDiagnostics=0 DOTNET_NOLOGO=1 HOME=/root
        mount -t ext4 /dev/ubda /var/lib
        {GuestProgram} modules {string.Join(' ', Modules.Select(ModulePath))}
        ip link set lo up
        ip link add dev vcan0 type vcan
        ip link set vcan0 up

        """;

    /// <summary>The played devices, as a command on the board.</summary>
    public static string GuestProgram => $"dotnet '/host{Path.Combine(AppContext.BaseDirectory, "Diagnostics.KernelGuest.dll")}'";

    /// <summary>
    /// The root is made anew in memory: this machine's programs and a few lists of its /etc, so that neither its units nor its settings take part. What systemd would do for a whole
    /// machine and this board needs not (it takes a minute in such a kernel) is masked.
    /// </summary>
    private static string BoardScript(string folder) => $$"""
        export PATH=/usr/sbin:/usr/bin:/sbin:/bin
        R=/mnt
        mount -t tmpfs -o mode=755 none $R
        cd $R
        mkdir -p usr etc/systemd/system var/lib var/log var/tmp opt tmp run proc sys dev share host root home
        mount --bind /usr usr
        for d in bin sbin lib lib64; do if [ -L /$d ]; then cp -P /$d .; elif [ -d /$d ]; then mkdir $d; mount --bind /$d $d; fi; done
        for f in passwd group shadow gshadow ld.so.cache ld.so.conf ld.so.conf.d nsswitch.conf login.defs pam.d udev alternatives; do [ ! -e /etc/$f ] || cp -a /etc/$f etc/; done
        : >etc/fstab
        echo board >etc/hostname
        echo '127.0.0.1 localhost board' >etc/hosts
        echo 00112233445566778899aabbccddeeff >etc/machine-id
        mount -t hostfs none share -o '{{folder}}'
        mount -t hostfs none host -o /
        cp share/board.target share/board.service etc/systemd/system/
        for u in {{string.Join(' ', Masked)}}; do ln -s /dev/null etc/systemd/system/$u; done
        exec switch_root $R {{Manager}} --unit=board.target --show-status=0 --log-target=console --log-level=warning

        """;

    private static readonly string[] Masked =
    [
        "timers.target", "getty.target", "cryptsetup.target", "avahi-daemon.socket", "dbus.socket", "dev-hugepages.mount", "dev-mqueue.mount", "sys-kernel-debug.mount",
        "sys-kernel-tracing.mount", "kmod-static-nodes.service", "ldconfig.service", "systemd-ask-password-console.path", "systemd-ask-password-wall.path", "systemd-binfmt.service",
        "systemd-boot-system-token.service", "systemd-firstboot.service", "systemd-fsck-root.service", "systemd-hwdb-update.service", "systemd-initctl.socket",
        "systemd-journal-catalog-update.service", "systemd-journal-flush.service", "systemd-machine-id-commit.service", "systemd-modules-load.service", "systemd-pstore.service",
        "systemd-random-seed.service", "systemd-remount-fs.service", "systemd-sysctl.service", "systemd-sysusers.service", "systemd-timesyncd.service", "systemd-tmpfiles-setup-dev.service",
        "systemd-tmpfiles-setup.service", "systemd-udev-trigger.service", "systemd-update-done.service", "systemd-update-utmp.service",
    ];

    private static string Boot(string folder, string script, TimeSpan limit, IReadOnlyList<string>? disks = null, Func<bool>? cuts = null, int mebibytes = 768)
    {
        ProcessStartInfo start = new(Kernel)
        {
            RedirectStandardInput = true,
            RedirectStandardOutput = true,
            RedirectStandardError = true,
        };
        foreach (string argument in new[]
        {
            $"mem={mebibytes}M", "root=/dev/root", "rootfstype=hostfs", "ro", "init=/bin/sh", "con=null", "con0=fd:0,fd:1", "quiet", "uml_dir=" + Path.Combine(folder, "uml"),
        })
        {
            start.ArgumentList.Add(argument);
        }

        for (int disk = 0; disk < (disks?.Count ?? 0); disk++)
        {
            start.ArgumentList.Add($"ubd{(char)('a' + disk)}={disks![disk]}");
        }

        start.ArgumentList.Add("--");
        start.ArgumentList.Add(script);
        WholeRegisters.Give(start);

        StringBuilder console = new();
        void Keep(object sender, DataReceivedEventArgs line)
        {
            lock (console)
            {
                console.AppendLine(line.Data);
            }
        }

        using Process kernel = Process.Start(start)!;
        kernel.OutputDataReceived += Keep;
        kernel.ErrorDataReceived += Keep;
        kernel.BeginOutputReadLine();
        kernel.BeginErrorReadLine();
        kernel.StandardInput.Close();
        for (long began = Stopwatch.GetTimestamp(); cuts is not null && Stopwatch.GetElapsedTime(began) < limit && !kernel.WaitForExit(CutInterval);)
        {
            if (cuts())
            {
                kernel.Kill(entireProcessTree: true);
            }
        }

        if (!kernel.WaitForExit(limit))
        {
            kernel.Kill(entireProcessTree: true);
            kernel.WaitForExit(TimeSpan.FromSeconds(10));
            lock (console)
            {
                console.AppendLine(CultureInfo.InvariantCulture, $"(ended after {limit.TotalSeconds:0} s)");
            }
        }

        lock (console)
        {
            return console.ToString();
        }
    }
}
