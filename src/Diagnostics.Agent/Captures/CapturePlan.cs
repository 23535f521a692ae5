using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.Captures;

/// <summary>Frames to be kept: around when, and why.</summary>
/// <param name="Time">The moment they are about.</param>
/// <param name="Why">A finding's key, or the note of a mark.</param>
/// <param name="IsMark">A person asked for it.</param>
internal sealed record CaptureRequest(Instant Time, string Why, bool IsMark)
{
    /// <summary>Where they begin.</summary>
    public Instant From { get; init; } = Time - CapturePlan.Before;

    /// <summary>What <see cref="Why"/> is made from, where the program set the mark; null for a person's words.</summary>
    public Sentence? WhyWording { get; init; }

    /// <summary>What the bus did around it, for a mark.</summary>
    public Story? Story { get; init; }
}

/// <summary>
/// Decides which frames are worth keeping: those around each finding that is raised or comes back, and around each mark. One fault may raise many findings and come
/// and go for days, so a finding gets one capture an hour, all findings together <see cref="MostAnHour"/>, and in a day no more than <see cref="MostBytesADay"/>, because cards
/// wear; marks are a person's wish and aren't counted.
/// </summary>
internal sealed class CapturePlan
{
    /// <summary>Before the moment: long enough for what led to it.</summary>
    public static readonly TimeSpan Before = TimeSpan.FromSeconds(60);

    /// <summary>After it: the first attempts to recover.</summary>
    public static readonly TimeSpan After = TimeSpan.FromSeconds(10);

    public const int MostAnHour = 12;

    /// <summary>Some sixty captures of an ordinary bus: a third of what all the rest of the log writes in a day.</summary>
    public const long MostBytesADay = 32 << 20;

    /// <summary>What began longer ago than this isn't in memory any more on most buses.</summary>
    private static readonly TimeSpan FarthestBack = TimeSpan.FromMinutes(10);

    private static readonly TimeSpan Hour = TimeSpan.FromHours(1);
    private static readonly TimeSpan Day = TimeSpan.FromDays(1);

    private readonly Dictionary<string, (int Count, Instant? Captured)> _known = new(StringComparer.Ordinal);
    private readonly Queue<Instant> _lastHour = [];
    private readonly List<CaptureRequest> _due = [];
    private readonly Queue<(Instant Time, int Bytes)> _lastDay = [];
    private long _bytesOfDay;

    public void OnMark(Instant time, string note, Sentence? wording = null) => _due.Add(new(time, note, IsMark: true) { WhyWording = wording });

    /// <summary>Bytes that a request may take.</summary>
    public int RoomFor(CaptureRequest request)
    {
        while (_lastDay.TryPeek(out (Instant Time, int Bytes) oldest) && request.Time - oldest.Time >= Day)
        {
            _bytesOfDay -= _lastDay.Dequeue().Bytes;
        }

        return request.IsMark ? CaptureFiles.MostBytes : (int)Math.Clamp(MostBytesADay - _bytesOfDay, 0, CaptureFiles.MostBytes);
    }

    /// <summary>So many bytes were taken for a request.</summary>
    public void OnTaken(CaptureRequest request, int bytes)
    {
        if (!request.IsMark)
        {
            _lastDay.Enqueue((request.Time, bytes));
            _bytesOfDay += bytes;
        }
    }

    /// <summary>Gives the requests whose time after the moment is over.</summary>
    public IReadOnlyList<CaptureRequest> OnSnapshot(Report report)
    {
        if (report.Source.End is not { } now)
        {
            return [];
        }

        foreach (FindingReport finding in report.Findings)
        {
            bool isKnown = _known.TryGetValue(finding.Key, out (int Count, Instant? Captured) before);
            if (finding.Severity == "note" || (isKnown && before.Count == finding.Count))
            {
                continue;
            }

            while (_lastHour.TryPeek(out Instant oldest) && now - oldest >= Hour)
            {
                _lastHour.Dequeue();
            }

            bool isWanted = _lastHour.Count < MostAnHour && (before.Captured is not { } captured || now - captured >= Hour);
            if (isWanted)
            {
                _lastHour.Enqueue(now);
                _due.Add(new(finding.Raised, finding.Key, IsMark: false)
                {
                    From = Instant.Max(Instant.Min(finding.Start, finding.Raised - Before), finding.Raised - FarthestBack),
                });
            }

            if (isKnown || _known.Count < Limits.RememberedFindings)
            {
                _known[finding.Key] = (finding.Count, isWanted ? now : before.Captured);
            }
        }

        List<CaptureRequest> ready = [.. _due.Where(request => now - request.Time >= After)];
        _due.RemoveAll(ready.Contains);
        return ready;
    }
}
