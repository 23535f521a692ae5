using System.Globalization;
using Diagnostics.Can;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Detectors;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Measuring;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;
using NmtState = Diagnostics.Core.Protocols.CanOpen.NodeState;
using NodeState = Diagnostics.Core.Counting.NodeState;

namespace Diagnostics.Core.Reporting;

/// <summary>From counters and findings to the report document.</summary>
internal static class ReportBuilder
{
    private const double Level = 0.95;

    /// <summary>Its English is <see cref="AssuranceReport.FewErrors"/>, which readers compare with.</summary>
    private static readonly Sentence FewErrors = Say($"no more errors on the wire than on a healthy bus");

    private static readonly Sentence NeverBelow = Say($"never below its limit");
    private static readonly Sentence NeverOutside = Say($"never out of their range");
    private static readonly Sentence NoOtherLevel = Say($"no change of the dominant level against the first hour");

    /// <summary>As with restarts, an hour is the least that is worth telling of what was measured.</summary>
    private const double Hour = 3600;

    public static Report Build(AnalyzerOptions options, Instant? start, Instant now, IReadOnlyList<Bus> buses, FindingBook book, NotSeenLedger ledger, Board board, long refusedMeasurements)
    {
        string? NameOf(byte index) => buses.FirstOrDefault(bus => bus.Index == index)?.Name;
        return new(
            Report.CurrentSchema,
            new(options.SourceKind, options.SourceName, start, start is null ? null : now, ledger.ToReport(NameOf) with { FindingsRefused = book.Refused > 0, MeasurementsRefused = refusedMeasurements }),
            [.. buses.Select(bus => OfBus(bus, start ?? now, now))],
            book.ToReport(),
            [.. buses.SelectMany(bus => AssurancesOf(bus, buses.Count > 1)), .. OfSupply(board), .. OfLineLevels(board)])
        {
            Measurements = [.. board.Tracks.Select(OfTrack), .. OfAir(board), .. OfLines(board)],
        };
    }

    private static QuantityReport OfTrack(MeasurementTrack track) => new(
        Quantities.NameOf(track.Quantity),
        Quantities.UnitOf(track.Quantity),
        track.All.Start,
        track.Last.End,
        Rounded(track.Last.Value),
        Rounded(track.All.Lowest),
        Rounded(track.All.Mean),
        Rounded(track.All.Highest),
        track.All.Count,
        Rounded(track.All.WindowSeconds),
        track.SurelySeenSeconds is double seconds ? Rounded(seconds) : null,
        OfSpan(track.LastSecond),
        OfSpan(track.LastMinute)) { Minutes = [.. track.LatestMinutes.Select(minute => OfSpan(minute)!)] };

    private static SpanReport? OfSpan(MeasuredSpan? span) =>
        span is { } known ? new(known.Start, Rounded(known.Lowest), Rounded(known.Mean), Rounded(known.Highest)) : null;

    private static IEnumerable<QuantityReport> OfAir(Board board)
    {
        if (board.DewPoint is not { } dew)
        {
            yield break;
        }

        yield return Computed("dewPointCelsius", "°C", dew.Since, dew.At, dew.Celsius);
        yield return Computed("condensationMarginKelvin", "K", dew.Since, dew.At, dew.MarginKelvin);
    }

    private static IEnumerable<QuantityReport> OfLines(Board board)
    {
        if (board.Lines?.Difference is { } levels)
        {
            yield return Computed("recessiveDifferenceVolts", "V", levels.Start, levels.End, levels.Recessive);
            yield return Computed("dominantDifferenceVolts", "V", levels.Start, levels.End, levels.Dominant);
        }

        if (board.Lines?.CommonModeVolts is double common && board[Quantity.LineHighVolts] is { LastSecond: { } second } line)
        {
            yield return Computed("commonModeVolts", "V", second.Start, line.Last.End, common);
        }
    }

    private static IEnumerable<AssuranceReport> OfSupply(Board board)
    {
        if (board.Dips?.NeverBelow is not { Seconds: >= Hour } watched)
        {
            yield break;
        }

        Sentence subject = Say($"bus supply at our clip, limit {watched.LimitVolts:0.0} V (means over {Text.Seconds(watched.WindowSeconds)}; a dip of {Text.Seconds(watched.SurelySeenSeconds)} or longer would have shown in full)");
        yield return Watched(subject, NeverBelow, watched.Seconds);
    }

    private static IEnumerable<AssuranceReport> OfLineLevels(Board board)
    {
        if (board.Lines?.NeverOutside is { Seconds: >= Hour } range)
        {
            const double Slack = LineRange.Tolerance;
            yield return Watched(
                Say($"lines at our clip, CAN_H {LineRange.HighLeast - Slack:0.00} to {LineRange.HighMost + Slack:0.00} V, CAN_L {LineRange.LowLeast - Slack:0.00} to {LineRange.LowMost + Slack:0.00} V, and their common mode always from {range.LowestCommonVolts:0.00} to {range.HighestCommonVolts:0.00} V (means over a second: what lasted two would have shown, but no edge, no ringing and no single glitch)"),
                NeverOutside,
                range.Seconds);
        }

        if (board.Lines?.Steady is { Seconds: >= Hour } steady)
        {
            Sentence where = steady.BetweenLines ? Say($"between the lines") : Say($"on CAN_H");
            yield return Watched(
                Say($"all senders together, {where}: {steady.UsualVolts:0.00} V above the recessive level, and never {Text.Percent(steady.ChangeRatio)} or more away from that (a terminator that goes missing makes 15 to 30 % more, one too many 11 to 18 % less: either would have shown within {Text.Seconds(steady.SurelySeenSeconds)}. A terminator that was wrong in the first hour already doesn't show, nor does an edge, ringing or a single glitch)"),
                NoOtherLevel,
                steady.Seconds);
        }
    }

    private static AssuranceReport Watched(Sentence subject, Sentence statement, double seconds) =>
        new(subject.English, statement.English, Math.Round(seconds / Hour, 4), null, null, "h") { SubjectWording = subject.WhereNeeded };

    private static QuantityReport Computed(string quantity, string unit, Instant since, Instant at, double value) =>
        new(quantity, unit, since, at, Rounded(value), null, null, null, null, null, null, null, null);

    /// <summary>Microvolts and millionths of a degree are more than any part gives.</summary>
    private static double Rounded(double value) => Math.Round(value, 6);

    /// <summary>Seconds in which the bus wasn't heard, or perhaps not.</summary>
    private static double Unheard(Bus bus) => (bus.Ledger.NotHeard(bus.Index) + bus.Ledger.Unknown(bus.Index)).TotalSeconds;

    private static BusReport OfBus(Bus bus, Instant start, Instant now)
    {
        double heard = Math.Max(0, now.SecondsSince(start) - Unheard(bus));
        double? capacity = bus.BitRate;
        (double second, double tenth) = bus.Load.Peaks();
        double? mean = heard > 0 ? bus.Load.TotalBits / heard / capacity : null;
        double total = Math.Max(1, bus.Load.TotalBits);
        IReadOnlyList<Sentence> remarks = bus.Remarks();
        return new()
        {
            Interface = bus.Name,
            BitRate = bus.BitRate,
            DataBitRate = bus.Facts.DataBitRate,
            BitRateSource = bus.BitRateSource,
            Protocol = bus.Protocol.Name,
            ListenOnly = bus.Facts.ListenOnly,
            ErrorReporting = bus.Facts.ErrorReporting,
            Frames = bus.Frames,
            RemoteFrames = bus.RemoteFrames,
            ErrorMessages = bus.Errors.Messages,
            LoadMean = Round(mean),
            LoadPeak1s = Round(second / capacity),
            LoadPeak100ms = Round(tenth * 10 / capacity),
            BusiestSeconds = capacity is double bits ? [.. bus.Load.BusiestSeconds(now).Select(ended => new BusySecond(ended.End, ended.Bits / bits))] : [],
            ErrorLoadMean = heard > 0 ? Round(bus.Load.ErrorBits / heard / capacity) : null,
            HeardSeconds = Math.Round(heard, 9),
            BitsHeard = Math.Round(bus.Errors.ExposedBits),
            ErrorEpisodes = CanSeeErrors(bus) ? bus.Errors.Episodes : null,
            ControllerState = bus.ControllerState switch
            {
                null => null,
                ControllerState.ErrorActive => "error-active",
                ControllerState.ErrorWarning => "error-warning",
                ControllerState.ErrorPassive => "error-passive",
                ControllerState.BusOff => "bus-off",
                ControllerState.Stopped => "stopped",
                _ => "sleeping",
            },
            TransmitErrorCounter = bus.TransmitErrorCounter,
            ReceiveErrorCounter = bus.ReceiveErrorCounter,
            Errors = new(bus.Errors.Bit, bus.Errors.Stuff, bus.Errors.Form, bus.Errors.Crc, bus.Errors.Acknowledge, bus.Errors.Other),
            BusOff = bus.BusOff,
            Undecodable = bus.Protocol.IsCanOpen ? bus.Undecodable.ToDictionary(entry => entry.Reason, entry => entry.Count) : null,
            Nodes = bus.Protocol.IsCanOpen ? [.. bus.Nodes.Select(node => OfNode(bus, node, total, now))] : [],
            Remarks = [.. remarks.Select(remark => remark.English)],
            RemarkWordings = remarks.Count > 0 ? remarks : null,
            UntrackedFrames = bus.Identifiers.Untracked,
            Identifiers = [.. bus.Identifiers.All.OrderBy(identifier => identifier.Id.ArbitrationKey).Select(identifier => OfIdentifier(bus, identifier, total))],
        };
    }

    /// <summary>A trace without a single error message may have been recorded without any.</summary>
    private static bool CanSeeErrors(Bus bus) => bus.Facts.ErrorReporting == true || bus.Errors.WireErrors > 0;

    private static NodeReport OfNode(Bus bus, NodeState node, double total, Instant now)
    {
        // Of two devices on one address each hides the silence of the other, and where their frames cross they look like one in a rhythm.
        bool isShared = bus.Book.IsOpen(Catalogue.DuplicateAddress, bus.Name, Subject.OfNode(node.Address));
        double? limit = isShared ? null : bus.SilenceSeconds(node);
        return new()
        {
            Address = node.Address,
            Name = bus.Names.NodeName(node.Address),
            State = node.Reported switch
            {
                NmtState.Initialising => "initialising",
                NmtState.PreOperational => "pre-operational",
                NmtState.Operational => "operational",
                NmtState.Stopped => "stopped",
                _ => null,
            },
            Present = limit is double seconds ? now.SecondsSince(node.LastHeard) <= seconds : node.Silent ? false : null,
            FirstHeard = node.FirstHeard,
            LastHeard = node.LastHeard,
            Frames = node.Frames,
            TrafficShare = Math.Round(node.Bits / total, 6),
            ErrorsOnItsFrames = node.Errors,
            Restarts = node.Restarts,
            RestartsUnexplained = node.RestartsUnexplained,
            HeartbeatSeconds = Round(node.Heartbeat is { Tracks: { TwoTogether: true } tracks } ? tracks.PeriodSeconds : node.HeartbeatSeconds),
            SilenceNoticedWithinSeconds = limit is double value ? Math.Round(value, 3) : null,
            SilenceNoticedAfterCommands = isShared ? null : bus.UnansweredCommandsAllowed(node),
            Identity = new(
                Hexadecimal(node.Knowledge.Vendor),
                Hexadecimal(node.Knowledge.Product),
                Hexadecimal(node.Knowledge.Revision),
                node.Knowledge.Serial?.ToString(CultureInfo.InvariantCulture),
                bus.ProductName(node),
                node.Knowledge.FirmwareVersion),
        };
    }

    private static IdentifierReport OfIdentifier(Bus bus, IdentifierState identifier, double total)
    {
        // Of two senders in turn the gaps have a mean that neither of them keeps.
        bool twoPhases = identifier.Tracks.TwoTogether;
        bool hasRhythm = identifier.Cycle.Rhythm != Rhythm.None && !twoPhases;
        return new(
            identifier.Id.ToString(),
            identifier.Frames,
            twoPhases ? Round(identifier.Tracks.PeriodSeconds) : hasRhythm ? Round(identifier.Cycle.PeriodSeconds) : null,
            hasRhythm ? Round(identifier.Cycle.JitterSeconds) : null,
            Math.Round(identifier.Bits / total, 6),
            bus.Protocol.IsCanOpen && identifier.Node != 0 ? identifier.Node : null)
        {
            TwoPhases = twoPhases,
        };
    }

    /// <summary>
    /// What was looked for and not found. Errors count as looked for only if this source can show them: a trace without a single error message may have been
    /// recorded without any. Who is accused of something, or says it of itself, is not cleared of it, whatever the counters say.
    /// </summary>
    private static IEnumerable<AssuranceReport> AssurancesOf(Bus bus, bool areSeveral)
    {
        double bits = bus.Errors.ExposedBits;
        if (CanSeeErrors(bus) && bus.Errors.Episodes == 0 && bits > 0)
        {
            yield return Assured(Say($"the whole bus"), Say($"no error on the wire"), Math.Round(bits), PerUnit(bits), Level, "bit");
        }

        if (bus.Errors.Episodes > 0 && ExactIntervals.Poisson(bus.Errors.Episodes, Level).High < ErrorRateDetector.ProductionLine * bits
            && bus.Book.Find(Catalogue.ErrorRate, bus.Name, Subject.WholeBus) is null && bus.Book.Find(Catalogue.ErrorBurst, bus.Name, Subject.WholeBus) is null)
        {
            yield return Assured(Say($"the whole bus"), FewErrors, Math.Round(bits), Significant(ExactIntervals.Poisson(bus.Errors.Episodes, Level).High / bits), Level, "bit");
        }

        if (!bus.Protocol.IsCanOpen)
        {
            yield break;
        }

        foreach (NodeState node in bus.Nodes)
        {
            Sentence subject = bus.Names.Node(node.Address);
            if (CanSeeErrors(bus) && node.Errors == 0 && node.Frames > 0 && !IsAccused(node, Catalogue.NodeErrors, Catalogue.BusOff, Catalogue.ReportsFault))
            {
                yield return Assured(subject, Say($"no error on its frames"), node.Frames, PerUnit(node.Frames), Level, "frame");
            }

            // Restarts while nothing was heard weren't either.
            double hours = (node.LastHeard.SecondsSince(node.FirstHeard) - Unheard(bus)) / 3600;
            if (node.Restarts == 0 && hours >= 1 && !IsAccused(node, Catalogue.NodeRestarted, Catalogue.NodeUnstable))
            {
                yield return Assured(subject, Say($"no restart"), Math.Round(hours, 4), PerUnit(hours), Level, "h");
            }

            if (node.Heartbeat is { Cycle.Rhythm: Rhythm.Cyclic, Tracks.TwoTogether: false } heartbeat && heartbeat.Frames > 20 && !IsAccused(node, Catalogue.DuplicateAddress))
            {
                yield return Assured(subject, Say($"no second sender of its address"), heartbeat.Frames, null, null, "heartbeat");
            }
        }

        AssuranceReport Assured(Sentence about, Sentence statement, double observed, double? bound, double? level, string unit)
        {
            Sentence whole = areSeveral ? Say($"{bus.Name}: {about}") : about;
            return new(whole.English, statement.English, observed, bound, level, unit) { SubjectWording = whole.WhereNeeded };
        }

        bool IsAccused(NodeState node, params ReadOnlySpan<FindingKind> kinds)
        {
            foreach (Finding finding in bus.Book.All)
            {
                if (finding.Interface == bus.Name && kinds.Contains(finding.Kind)
                    && (finding.Subject.Node == node.Address || finding.Subject.Nodes?.Contains(node.Address) == true))
                {
                    return true;
                }
            }

            return false;
        }

        // Exact upper bound of the rate with nothing seen: the rule of three.
        static double PerUnit(double exposure) => Significant(ExactIntervals.PoissonUpper(0, Level) / exposure);

        static double Significant(double bound) => double.Parse(bound.ToString("G4", CultureInfo.InvariantCulture), CultureInfo.InvariantCulture);
    }

    private static string? Hexadecimal(uint? value) => value is uint number ? "0x" + number.ToString("X8", CultureInfo.InvariantCulture) : null;

    private static double? Round(double? value) => value is double number && double.IsFinite(number) ? Math.Round(number, 9) : null;
}
