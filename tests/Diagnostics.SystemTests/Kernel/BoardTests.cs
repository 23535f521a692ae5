using System.Text.Json;

namespace Diagnostics.SystemTests.Kernel;

/// <summary>scripts/install and the units on a board that boots systemd in a real kernel with CAN: what a person does on the first day, and what goes wrong later.</summary>
[Collection("kernel")]
public sealed class BoardTests(BoardTests.Board board) : IClassFixture<BoardTests.Board>
{
    public sealed class Board
    {
        private readonly Lazy<KernelRun> _run = new(() => KernelRig.RunBoard(TimeSpan.FromMinutes(20), Day()));

        public string this[string file]
        {
            get
            {
                if (KernelRig.ManagerSkipReason is { } reason)
                {
                    Assert.Skip(reason);
                }

                return _run.Value.Files[file];
            }
        }

        /// <summary>Each part leaves what the checks read.</summary>
        private static string Day()
        {
            string built = Repository.PathOf(Path.Combine("src/Diagnostics.Agent/bin", Repository.Configuration, "net10.0"));
            Assert.SkipUnless(File.Exists(Path.Combine(built, "diagnostics")), "The program was not built beside the tests.");
            string install = $"bash '/host{Repository.PathOf("scripts/install")}' --published '/host{built}'";
            return $$"""
                get() { exec 3<>/dev/tcp/127.0.0.1/8480 || return 1; printf "GET $1 HTTP/1.0\r\nHost: localhost\r\n\r\n" >&3; sed '1,/^\r$/d' <&3; exec 3>&-; }
                answers() { for i in $(seq 200); do if (get /report.json >/dev/null) 2>/dev/null; then return 0; fi; sleep 0.5; done; return 1; }
                until_() { for i in $(seq 400); do if eval "$1"; then return 0; fi; sleep 0.5; done; echo "waited in vain: $1"; return 1; }
                of() { systemctl show -p "$1" --value diagnostics; }

                {{install}}
                of ActiveState >state
                of SubState >>state
                systemctl is-active diagnostics-card >card || true
                findmnt -no OPTIONS --target /var/lib/diagnostics >options
                cat /proc/$(of MainPID)/status >process
                id -u diagnostics >user

                # An adapter is plugged in; the unit that waits for it sets it up. The driver's name for it is can0 or slcan0.
                systemctl enable diagnostics-interface@can0 diagnostics-interface@slcan0
                {{KernelRig.GuestProgram}} adapter adapter-commands &
                {{KernelRig.GuestProgram}} site vcan0 &
                until_ "ls /sys/class/net | grep -qxE '(sl)?can0'"
                adapter=$(ls /sys/class/net | grep -xE '(sl)?can0')
                until_ "systemctl is-active --quiet diagnostics-interface@$adapter"
                ip -d link show dev $adapter >link
                answers
                until_ "get /report.json | grep -q 'listenOnly\" *: *true'"
                sleep 5
                get /report.json >report.json
                get / >page.html

                # A service that dies, and one that hangs: a stopped process is started again by the watchdog only, or the wait is in vain.
                systemctl kill -s KILL diagnostics
                until_ '[ "$(of NRestarts)" = 1 ] && [ "$(of ActiveState)" = active ]'
                systemctl kill -s STOP diagnostics
                until_ '[ "$(of NRestarts)" = 2 ] && [ "$(of ActiveState)" = active ]'
                answers
                get / >page-again.html
                journalctl --no-pager -u diagnostics >journal-restarts

                # A wrong setting, then the right one.
                cp /etc/diagnostics/agent.json kept.json
                sed -i 's/"port": 8480/"port": "many"/' /etc/diagnostics/agent.json
                systemctl restart diagnostics || true
                until_ '[ "$(of ActiveState)" = failed ]'
                journalctl --sync || true
                sleep 7
                of ActiveState >wrong
                of ExecMainStatus >>wrong
                journalctl --no-pager -u diagnostics -n 5 >journal-wrong
                cp kept.json /etc/diagnostics/agent.json

                # An update keeps settings and log; the page for other devices is opened and closed.
                systemctl reset-failed diagnostics
                ls /var/lib/diagnostics >log-before
                {{install}} --listen-on all >opened
                answers
                of IPAddressAllow >filter
                cat /etc/diagnostics/passcode >hash
                stat -c '%U %G %a' /etc/diagnostics/passcode >hash-owner
                {{install}} --listen-on none >closed
                of IPAddressAllow >filter-closed
                cmp kept.json /etc/diagnostics/agent.json

                # Parts at an I2C bus that belongs to a group, as Debian has it; the kernel's own stub stands for a chip, and answers no plain transfer.
                groupadd -r i2c
                {{KernelRig.GuestProgram}} modules {{KernelRig.Module("drivers/i2c/i2c-core.ko")}} {{KernelRig.Module("drivers/i2c/i2c-dev.ko")}} {{KernelRig.Module("drivers/i2c/i2c-stub.ko")}} chip_addr=0x40
                udevadm settle
                chgrp i2c /dev/i2c-0
                chmod 660 /dev/i2c-0
                sed -i 's/^  "board": null/  "board": { "i2cBus": 0, "supply": { "part": "ina219", "address": "0x40" } }/' /etc/diagnostics/agent.json
                systemctl restart diagnostics
                answers
                until_ "/opt/diagnostics/diagnostics board >board-closed 2>&1; grep -qi 'supply' board-closed"
                {{install}} --board-parts yes >parts 2>&1
                answers
                sleep 5
                /opt/diagnostics/diagnostics board >board-open 2>&1 || true
                grep Groups /proc/$(of MainPID)/status >groups
                getent group i2c | cut -d: -f3 >group
                systemctl show -p DeviceAllow --value diagnostics >devices

                bash '/host{{Repository.PathOf("scripts/uninstall")}}' >removed
                ls /etc/systemd/system >units-left
                ls /var/lib/diagnostics >log-after
                (get / >/dev/null) 2>/dev/null && exit 1
                [ ! -e /opt/diagnostics ]
                """;
        }
    }

    [Fact]
    public void RunsAsItsOwnUserWithoutAnyPrivilege()
    {
        Assert.Equal("active\nrunning\n", board["state"]);
        string[] process = board["process"].Split('\n');
        string user = board["user"].Trim();
        Assert.NotEqual("0", user);
        Assert.Contains($"Uid:\t{user}\t{user}\t{user}\t{user}", process);
        Assert.All(["CapInh", "CapPrm", "CapEff", "CapBnd", "CapAmb"], set => Assert.Contains($"{set}:\t0000000000000000", process));
        Assert.Contains("NoNewPrivs:\t1", process);
    }

    /// <summary>Without it, the log would write twice as much to the card.</summary>
    [Fact]
    public void TheCardIsSparedTimesOfChange()
    {
        Assert.Equal("active\n", board["card"]);
        Assert.Contains("lazytime", board["options"].Trim().Split(','));
    }

    [Fact]
    public void AnAdapterThatIsPluggedInIsSetUpForListeningAndHeardTogetherWithTheOther()
    {
        Assert.Contains("LISTEN-ONLY", board["link"], StringComparison.Ordinal);
        Assert.Contains("bitrate 125000", board["link"], StringComparison.Ordinal);

        // L = listen-only, O would take part in the bus; t, T, r, R would be frames (the serial-line CAN protocol, drivers/net/can/slcan).
        string[] commands = board["adapter-commands"].Split('\n');
        Assert.Contains("L", commands);
        Assert.DoesNotContain(commands, command => command.Length > 0 && "OtTrR".Contains(command[0], StringComparison.Ordinal));
        using JsonDocument report = JsonDocument.Parse(board["report.json"]);
        JsonElement[] buses = [.. report.RootElement.GetProperty("buses").EnumerateArray()];
        Assert.Equal(2, buses.Length);
        JsonElement site = buses.Single(bus => bus.GetProperty("interface").GetString() == "vcan0");
        Assert.True(site.GetProperty("frames").GetInt64() > 0);
        Assert.NotEmpty(site.GetProperty("nodes").EnumerateArray());
        Assert.True(buses.Single(bus => bus.GetProperty("interface").GetString() != "vcan0").GetProperty("listenOnly").GetBoolean());
        Assert.Contains("vcan0", board["page.html"], StringComparison.Ordinal);
    }

    [Fact]
    public void AServiceThatDiesOrHangsIsStartedAgainAndSaysThatItWasCutOff()
    {
        Assert.Contains("The last run was cut off", board["journal-restarts"], StringComparison.Ordinal);
        Assert.Contains("vcan0", board["page-again.html"], StringComparison.Ordinal);
    }

    [Fact]
    public void AWrongSettingIsNamedAndNotTriedAgain()
    {
        Assert.Equal("failed\n2\n", board["wrong"]);
        Assert.Contains("many", board["journal-wrong"], StringComparison.Ordinal);
    }

    [Fact]
    public void AnUpdateKeepsSettingsAndLogAndOpensThePageOnlyWhenAsked()
    {
        Assert.Matches("passcode", board["opened"]);
        Assert.Contains("\"argon2id\"", board["hash"], StringComparison.Ordinal);
        Assert.Equal("root diagnostics 640\n", board["hash-owner"]);
        Assert.Contains("0.0.0.0/0", board["filter"], StringComparison.Ordinal);
        Assert.DoesNotContain("0.0.0.0/0", board["filter-closed"], StringComparison.Ordinal);
        Assert.DoesNotContain("diagnostics", board["units-left"], StringComparison.Ordinal);
        Assert.All(board["log-before"].Split('\n', StringSplitOptions.RemoveEmptyEntries).Where(file => file.EndsWith(".seg", StringComparison.Ordinal)), file => Assert.Contains(file, board["log-after"], StringComparison.Ordinal));
    }

    /// <summary>The stub is reached by the service's group and refuses as a bus does; without the drop-in, the bus isn't even there.</summary>
    [Fact]
    public void PartsAtTheBoardAreReachedByGroupOnlyWhereThatWasAskedFor()
    {
        Assert.Contains(board["group"].Trim(), board["groups"].Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries));
        Assert.Contains("char-i2c rw", board["devices"], StringComparison.Ordinal);
        Assert.DoesNotContain("denied", board["board-open"], StringComparison.OrdinalIgnoreCase);
        Assert.NotEqual(board["board-closed"], board["board-open"]);
    }
}
