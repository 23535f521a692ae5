using System.Text;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using static Diagnostics.Agent.Pages.TextLayout;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages;

/// <summary>The report as text, 80 columns, in the order of the page; in English, as scripts and records of commands read it.</summary>
internal static class TextReport
{
    /// <summary>Causes beyond these are seldom looked at; their checks stand on the page and in the document.</summary>
    private const int FullCauses = 2;

    public static string Render(PageModel model)
    {
        Report report = model.Report;
        Times times = model.Times;
        StringBuilder text = new();
        Verdict verdict = Verdict.Of(model);
        Wrap(text, string.Empty, verdict.Sentence.English);
        string span = report.Source.Start is { } start && report.Source.End is { } end
            ? $", {times.Full(start)} to {times.Full(end)}"
            : string.Empty;
        Wrap(text, string.Empty, report.Source.Name + span);

        Heading(text, "Can this tool see?");
        (Sentence word, Sentence sentence) = Verdict.SightOf(report, verdict);
        Wrap(text, string.Empty, $"{word} {sentence}");
        foreach (Sentence line in verdict.Sight.Concat(verdict.Troubles).Concat(verdict.Limits))
        {
            Wrap(text, "- ", line.English);
        }

        foreach (BusReport bus in report.Buses)
        {
            Wrap(text, "- ", $"{bus.Interface}: {Join(PageRenderer.Bus(bus), ErrorCounts.OfBus(report, bus))}");
        }

        Heading(text, "What is wrong, and where to look");
        if (report.Findings.Count == 0)
        {
            text.Append(Verdict.NoFindings(report).English).Append('\n');
        }
        else
        {
            Wrap(text, string.Empty, Cautions.Assumed.English);
            text.Append('\n');
        }

        foreach (ToldFinding told in ToldFinding.Of(report))
        {
            Finding(text, model, told);
        }

        Heading(text, "What it is not");
        if (report.Assurances.Count == 0)
        {
            text.Append("Nothing can be ruled out: too little was heard, the protocol isn’t known, or\nthis record can’t show errors.\n");
        }

        foreach ((Sentence statement, IReadOnlyList<Sentence> subjects) in Words.Assurances(report))
        {
            Wrap(text, "- ", $"{statement}: {string.Join(", ", subjects)}.");
        }

        Nodes(text, model);
        Identifiers(text, report);
        Measured(text, model);
        Heading(text, "Before you open anything");
        foreach (Sentence line in Cautions.Lines)
        {
            Wrap(text, "- ", line.English);
        }

        return text.ToString().TrimEnd('\n');
    }

    private static void Finding(StringBuilder text, PageModel model, ToldFinding told)
    {
        FindingReport finding = told.Finding;
        string severity = told.ExplainedBy is { } leader ? $"PART OF {leader.Number}" : Words.Severity(told.Finding.Severity).English.ToUpperInvariant();
        Wrap(text, $"{told.Number}. ", $"{severity}{(finding.End is null ? string.Empty : ", OVER NOW")}: {Words.Capital(finding.Summary)} [{finding.Finding}]");
        Labelled(text, "where", string.Join(", ", Words.Where(model.Report, finding)));
        Labelled(text, "when", FindingCards.When(finding, model).English);
        Labelled(text, "how sure", Words.Confidence(finding.Confidence).English);
        foreach (MeasurementReport measurement in finding.Measurements)
        {
            (Sentence name, Sentence value) = Words.Measurement(measurement);
            Labelled(text, "measured", $"{name}: {value}");
        }

        foreach (EvidenceReport evidence in finding.Evidence)
        {
            Labelled(text, "seen", $"{model.Times.Exact(evidence.Time)} {evidence.Text}");
        }

        if (told.ExplainedBy is null)
        {
            Causes(text, finding.Causes);
        }

        text.Append('\n');
    }

    /// <summary>The likeliest with what to do, the others in a line, and what to mind once for all of them.</summary>
    private static void Causes(StringBuilder text, IReadOnlyList<CauseReport> causes)
    {
        string careful = string.Empty;
        foreach (CauseReport cause in causes.Take(FullCauses))
        {
            Labelled(text, "cause", $"{Words.Cause(cause.Cause)} ({Words.Probability(cause.Probability)}). {cause.Why}");
            Labelled(text, "  check", cause.NextCheck);
            Labelled(text, "  expect", cause.Expect);
            if (cause.Caution is { } caution && !careful.Contains(caution, StringComparison.Ordinal))
            {
                careful = careful.Length == 0 || caution.Contains(careful, StringComparison.Ordinal) ? caution : $"{careful} {caution}";
            }
        }

        Labelled(text, "or", string.Join(", ", causes.Skip(FullCauses).Take(Limits.FurtherCauses + 1 - FullCauses).Select(cause => $"{Words.Cause(cause.Cause)} {Words.Probability(cause.Probability)}")));
        Labelled(text, "careful", careful);
    }

    private static void Nodes(StringBuilder text, PageModel model)
    {
        Report report = model.Report;
        Heading(text, "Who is on the bus");
        if (!report.Buses.Any(bus => bus.Nodes.Count > 0))
        {
            text.Append("No device was heard under an address of its own.\n");
        }

        foreach (BusReport bus in report.Buses)
        {
            foreach (NodeReport node in bus.Nodes)
            {
                string noticed = Words.IsUnnoticed(node) ? "silence can't be noticed" : "silence noticed " + Words.Noticed(node).English;
                string presence = node.Present switch { true => "here", false => "SILENT", null => "can't tell whether it is here" };
                Wrap(text, "- ", $"{(report.Buses.Count > 1 ? bus.Interface + " " : string.Empty)}{Words.NodeName(node)}: {presence}, {Words.State(node)}, last heard {model.Times.Short(node.LastHeard)}, {noticed}, {Words.Percent(node.TrafficShare)} of the traffic, {Words.Amount(node.Restarts, "restart")}, {(PageRenderer.CanJudgeErrors(bus) ? Words.Amount(node.ErrorsOnItsFrames, "error").English : "errors – (not known)")}");
            }

            if (bus.Nodes.Count > 0 && ErrorCounts.OfNodes(bus) is { } errors)
            {
                Wrap(text, string.Empty, errors.English);
            }
        }
    }

    private static void Identifiers(StringBuilder text, Report report)
    {
        foreach (BusReport bus in report.Buses.Where(bus => bus.Identifiers.Count > 0 && (Words.IsUnknownProtocol(bus.Protocol) || bus.Nodes.Count == 0)))
        {
            Heading(text, $"What is sent on {bus.Interface}");
            foreach (IdentifierReport identifier in bus.Identifiers.Take(Limits.IdentifiersShown))
            {
                Wrap(text, "- ", $"{identifier.Id}: {Words.Amount(identifier.Frames, "frame")}, {Words.Every(report, identifier)}, {Words.Percent(identifier.TrafficShare)} of the traffic");
            }

            if (bus.Identifiers.Count > Limits.IdentifiersShown)
            {
                text.Append(Words.Count(bus.Identifiers.Count - Limits.IdentifiersShown).English).Append(" more stand in the report document.\n");
            }
        }
    }

    private static void Measured(StringBuilder text, PageModel model)
    {
        if (model.Report.Measurements.Count == 0)
        {
            return;
        }

        Heading(text, "What was measured at this board");
        foreach (QuantityReport track in MeasuredPart.Tracks(model.Report))
        {
            Sentence Value(double? value) => MeasuredPart.Value(track.Quantity, value);
            Wrap(text, "- ", $"{MeasuredPart.NameOf(track.Quantity)}: {Value(track.Last)}; {Value(track.Lowest)} to {Value(track.Highest)}, mean {Value(track.Mean)}, since {model.Times.Short(track.Since)}");
        }

        foreach (Sentence line in MeasuredPart.Lines(model.Report, model.Times))
        {
            Wrap(text, string.Empty, line.English);
        }
    }
}
