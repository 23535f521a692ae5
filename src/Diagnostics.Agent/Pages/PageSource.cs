using Diagnostics.Agent.Access;
using Diagnostics.Agent.Boards;
using Diagnostics.Agent.Bundles;
using Diagnostics.Agent.Captures;
using Diagnostics.Agent.Chronicles;
using Diagnostics.Agent.Languages;
using Diagnostics.Agent.Records;
using Diagnostics.Core.Wording;
using Microsoft.AspNetCore.Http;

namespace Diagnostics.Agent.Pages;

/// <summary>What the parts of the page show and act on.</summary>
/// <param name="State">What the parts of the service show each other.</param>
/// <param name="Clock">To tell an analysis that stands still, and where the board is.</param>
internal sealed record PageSource(AgentState State, TimeProvider Clock)
{
    /// <summary>What was odd in what the service was given, for the page.</summary>
    public IReadOnlyList<Sentence> Remarks { get; init; } = [];

    /// <summary>Frames that were kept; null where there is no log.</summary>
    public CaptureFiles? Captures { get; init; }

    /// <summary>The log, to be asked what happened; null where none is kept.</summary>
    public IChronicleReader? Log { get; init; }

    /// <summary>The as-built record and its versions; null where there is only what was read, as in a bundle.</summary>
    public RecordBook? Records { get; init; }

    /// <summary>Makes bundles; null where there is no log, or nothing to make one of.</summary>
    public LiveBundles? Bundles { get; init; }

    /// <summary>What is fitted to the board; null where no service runs.</summary>
    public BoardView? Board { get; init; }

    /// <summary>Places of live streams.</summary>
    public StreamPlaces Streams { get; } = new();

    /// <summary>For a reader who chose none; null = as the browser asks.</summary>
    public Language? Language { get; init; }

    public TimeZoneInfo Zone => State.ReadFrom?.Zone ?? Clock.LocalTimeZone;

    /// <summary>As it is at this moment.</summary>
    public PageModel Model() => PageModel.Of(State, Clock) with { CanBundle = Bundles is not null, Remarks = Remarks };

    /// <summary>As it is at this moment, in the language of a request.</summary>
    public PageModel Model(HttpContext context) => Model() with { Language = context.Language() };
}
