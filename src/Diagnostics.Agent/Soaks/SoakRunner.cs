using System.Globalization;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Soak;

namespace Diagnostics.Agent.Soaks;

/// <summary>
/// Runs the soak test that a person asked for, on the analysis's own thread, one tick a second and one when its time may be full; goes on with the one that the log says was open when the power went.
/// Says what the log should keep: the beginning, the end, whatever changes the verdict, and every five minutes how far it got, which is what a power cut can cost.
/// </summary>
internal sealed class SoakRunner(AgentState state)
{
    private static readonly TimeSpan KeepInterval = TimeSpan.FromMinutes(5);

    private SoakTest? _test;
    private Instant _kept;
    private (SoakEnd? End, int Findings, SoakOutcome Outcome) _shape;

    /// <summary>When the test that runs wants a snapshot, on the line, as its time may be full then.</summary>
    public Instant? Due => _test?.Due;

    /// <param name="report">On the line.</param>
    /// <param name="wallMinusLine">What to add for people.</param>
    /// <returns>What is to be kept.</returns>
    public IReadOnlyList<SoakRecord> OnSnapshot(Report report, TimeSpan wallMinusLine)
    {
        if (report.Source.End is not { } now)
        {
            return [];
        }

        List<SoakRecord> keep = [];
        if (state.TakeOpenSoak() is { } open)
        {
            if (_test is null)
            {
                _test = SoakTest.GoOn(open);
                _kept = now;
            }
            else
            {
                // A person was faster than the log.
                keep.Add(open with { End = SoakEnd.Replaced });
            }
        }

        while (state.TryTakeSoakWish(out SoakRequest? wish))
        {
            if (_test is { Record.End: null } running)
            {
                running.OnSnapshot(report, wallMinusLine);
                running.Close(wish is null ? SoakEnd.Stopped : SoakEnd.Replaced);
                keep.Add(running.Record);
            }

            if (wish is not null)
            {
                _test = SoakTest.Begin(NewId(now + wallMinusLine), wish.Name, wish.Asked, wish.Rules, report, wallMinusLine);
                _shape = default;
                keep.Add(_test.Record);

                // At once: another wish of the same second must get another name.
                state.SetSoak(_test.Record);
            }
        }

        if (_test is { Record.End: null } test)
        {
            test.OnSnapshot(report, wallMinusLine);
            (SoakEnd?, int, SoakOutcome) shape = (test.Record.End, test.Record.Findings.Count, SoakVerdict.Of(test.Record).Outcome);
            if (shape != _shape || now - _kept >= KeepInterval)
            {
                keep.RemoveAll(record => record.Id == test.Record.Id);
                keep.Add(test.Record);
                _kept = now;
                _shape = shape;
            }

            state.SetSoak(test.Record);
        }

        foreach (SoakRecord record in keep)
        {
            state.SetSoak(record);
        }

        return keep;
    }

    /// <summary>The board may have begun another test in the same second of its clock, or in the same second of another life of its clock.</summary>
    private string NewId(Instant wall)
    {
        string stamp = DateTimeOffset.FromUnixTimeMilliseconds(wall.Nanoseconds / 1_000_000).ToString("yyyyMMdd-HHmmss", CultureInfo.InvariantCulture);
        string id = stamp;
        for (int attempt = 2; state.Soaks.Any(known => known.Id == id); attempt++)
        {
            id = string.Create(CultureInfo.InvariantCulture, $"{stamp}-{attempt}");
        }

        return id;
    }
}
