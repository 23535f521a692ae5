using Diagnostics.Core.Protocols.CanOpen;

namespace Diagnostics.Tests.Protocols.CanOpen;

/// <summary>Real traffic; the expected counts are the recordings' own known truth (their README), counted there from the raw frames.</summary>
public class CanOpenRecordingTests
{
    [Fact]
    public void AnnotatedTestReportIsDecodedToItsKnownCounts()
    {
        // A public test report of one device (CANopenNode/CANopenDemo at 1f16f496).
        WrittenEvents events = new();
        Dictionary<DecodeOutcome, int> outcomes = [];
        string[] lines = RecordedFiles.Lines("canopen-annotated", "node4_sequence.log");
        for (int i = 0; i < lines.Length; i++)
        {
            DecodeOutcome outcome = events.Feed(lines[i].Split(' ')[2], i);
            outcomes[outcome] = outcomes.GetValueOrDefault(outcome) + 1;
        }

        int Count(string start) => events.Lines.Count(line => line.StartsWith(start, StringComparison.Ordinal));

        Assert.Equal(17_466, lines.Length);
        Assert.Equal(7352, Count("sdo request 4"));
        Assert.Equal(7351, Count("sdo answer 4"));
        Assert.Equal(4313, events.Lines.Count(line => line.StartsWith("abort 4 ", StringComparison.Ordinal) && line.EndsWith("by server", StringComparison.Ordinal)));
        Assert.Equal(1, events.Lines.Count(line => line.StartsWith("abort 4 ", StringComparison.Ordinal) && line.EndsWith("by client", StringComparison.Ordinal)));
        Assert.Equal(910, Count("sync"));
        Assert.Equal(56, Count("boot 4"));
        Assert.Equal(56, Count("boot "));
        Assert.Equal(354, Count("heartbeat 4 Operational"));
        Assert.Equal(318, Count("heartbeat 4 PreOperational"));
        Assert.Equal(6, Count("heartbeat 4 Stopped"));
        Assert.Equal(281, Count("emergency 4 "));
        Assert.Equal(1, Count("emergency 1 "));
        Assert.Equal(226, Count("command "));
        Assert.Equal(43, Count("command Start"));
        Assert.Equal(16, Count("command Stop"));
        Assert.Equal(111, Count("command EnterPreOperational"));
        Assert.Equal(55, Count("command ResetNode"));
        Assert.Equal(1, Count("command ResetCommunication"));
        Assert.Equal(146, Count("pdo T1 4"));
        Assert.Equal(137, Count("pdo T2 4"));
        int[] heartbeats = [1, 2, 3, 5, 6, 7, 8, 9, 71];
        Assert.All(heartbeats, node => Assert.NotEqual(0, Count($"heartbeat {node} ")));
        Assert.Equal(0, Count("guard"));

        // The report's first steps, as its annotations name them: device type read, 1017h read and written.
        Assert.Equal("read 4 1000:00 91010F00", events.Lines.First(line => line.StartsWith("read", StringComparison.Ordinal)));
        Assert.Contains("write 4 1017:00 0000", events.Lines);
        Assert.Contains("read 4 1008:00 43414E6F70656E44656D6F5049433332", events.Lines);

        // The tester made three mistakes on purpose: a command that doesn't exist, a toggle bit that doesn't alternate, an RPDO without data.
        Assert.Equal(1, outcomes[DecodeOutcome.SdoUnknownCommand]);
        Assert.Equal(1, outcomes[DecodeOutcome.SdoToggleWrong]);
        Assert.Equal(1, outcomes[DecodeOutcome.PdoTooShort]);
        Assert.Equal(17_463, outcomes[DecodeOutcome.Understood]);
    }

    [Fact]
    public void DisplayTextOfAnInputAndOutputSlaveIsDecoded()
    {
        // MinMengbin/CANBUS_J1939_CANopen at 953baa52: 54 frames of node 10.
        WrittenEvents events = new();
        string[] frames = [.. RecordedFiles.Lines("canopen-abb-cm588", "abb_cm588_node10.candump.txt").Select(TextFrames.FromDisplay).OfType<string>()];

        Assert.Equal(54, frames.Length);
        Assert.All(frames, frame => Assert.Equal(DecodeOutcome.Understood, events.Feed(frame)));
        Assert.Contains("boot 10", events.Lines);
        Assert.Contains("emergency 10 0000 00 0000000000", events.Lines);
        Assert.Contains("command Start 10", events.Lines);
        Assert.Contains("read 10 1A00:00 08", events.Lines);
        Assert.Contains("read 10 1A00:01 08010020", events.Lines);
        Assert.Contains("read 10 1600:01 08010022", events.Lines);
        Assert.Contains("read 10 1800:01 8A010080", events.Lines);
        Assert.Contains("write 10 1800:03 0100", events.Lines);
        string abort = Assert.Single(events.Lines, line => line.StartsWith("abort", StringComparison.Ordinal));
        Assert.Equal("abort 10 001A:01 06020000 by server", abort);
        Assert.Equal("the object does not exist", CanOpenWords.SdoAbort(0x06020000));

        // The RPDO was sent after 1600h sub 1 had told that it carries 2200h, no digital outputs.
        Assert.DoesNotContain(events.Lines, line => line.StartsWith("commanded", StringComparison.Ordinal));
    }

    [Fact]
    public void ADataSheetKeepsTheManufacturersOwnObjectsFromBeingReadAsInputs()
    {
        // The same recording: its device maps 2000h and 2200h, as its own SDO answers tell later; the data sheet says so from the first frame on.
        string[] frames = [.. RecordedFiles.Lines("canopen-abb-cm588", "abb_cm588_node10.candump.txt").Select(TextFrames.FromDisplay).OfType<string>()];
        string Object(int index, int sub) => FormattableString.Invariant($"{index:X4}{sub:X2}08");
        DataSheet sheet = WrenfieldSheets.Sheet(WrenfieldSheets.Text(
            0x588,
            null,
            [
                .. Enumerable.Range(0, 4).Select(pdo => (FormattableString.Invariant($"TPDO{pdo + 1}"), Enumerable.Range(1, 8).Select(i => Object(0x2000, (8 * pdo) + i)).ToArray(), (string?)null)),
                .. Enumerable.Range(0, 4).Select(pdo => (FormattableString.Invariant($"RPDO{pdo + 1}"), Enumerable.Range(1, 8).Select(i => Object(0x2200, (8 * pdo) + i)).ToArray(), (string?)null)),
            ]));

        WrittenEvents without = new();
        WrittenEvents with = new(null, sheet);
        Assert.All(frames, frame => Assert.Equal(without.Feed(frame), with.Feed(frame)));
        Assert.Contains("input 10.1 off first", without.Lines);
        Assert.DoesNotContain(with.Lines, line => line.StartsWith("input", StringComparison.Ordinal));
        Assert.StartsWith("panel.eds is taken for node 10:", Assert.Single(with.SheetRemarks), StringComparison.Ordinal);
    }

    [Fact]
    public void FramesOfATutorialAreDecoded()
    {
        // Documentation of an open protocol stack's demo (CANopenNode/CANopenDemo, tutorial folder).
        WrittenEvents events = new();
        string[] lines = [.. RecordedFiles.Lines("canopen-annotated", "tutorial_frames.tsv").Where(line => line.Contains("README.md", StringComparison.Ordinal) || line.Contains("PDO.md", StringComparison.Ordinal))];
        string[] frames = [.. lines.Select(TextFrames.FromDisplay).OfType<string>()];

        Assert.NotEmpty(frames);
        Assert.All(frames, frame => Assert.Equal(DecodeOutcome.Understood, events.Feed(frame)));
        Assert.Contains("boot 1", events.Lines);
        Assert.Contains("boot 4", events.Lines);
        Assert.Contains("emergency 4 5000 01 2F74000000", events.Lines);
        Assert.Contains("read 4 1017:00 0000", events.Lines);
        Assert.Contains("write 4 1017:00 E803", events.Lines);
        Assert.Equal("device hardware", CanOpenWords.Emergency(0x5000).English);
    }

    [Fact]
    public void BlockTransferThatIsJoinedInItsMiddleGivesNoValue()
    {
        // The same tutorial shows parts of two block transfers, to nodes 3 and 4 at once, without their beginning.
        WrittenEvents events = new();
        string[] frames = [.. RecordedFiles.Lines("canopen-annotated", "tutorial_frames.tsv").Where(line => line.Contains("SDO.md", StringComparison.Ordinal)).Select(TextFrames.FromDisplay).OfType<string>()];

        foreach (string frame in frames)
        {
            events.Feed(frame);
        }

        Assert.NotEmpty(frames);
        Assert.Equal(frames.Length, events.Lines.Count(line => line.StartsWith("sdo", StringComparison.Ordinal)));
        Assert.DoesNotContain(events.Lines, line => line.StartsWith("write", StringComparison.Ordinal));
    }
}
