using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Reporting;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Tests.Findings;

public class FindingBookTests
{
    private static Instant At(double seconds) => new((long)(seconds * 1e9));

    private static Finding Raise(FindingBook book, double start, double now, double confidence = 0.9) =>
        book.Raise(Catalogue.NodeSilent, "can0", Subject.OfNode(5), At(start), At(now), confidence);

    [Fact]
    public void ASymptomThatComesBackIsOneMoreEpisodeOfTheSameFinding()
    {
        FindingBook book = new();
        Raise(book, 10, 13);
        book.Close(Catalogue.NodeSilent, "can0", Subject.OfNode(5), At(20));
        Raise(book, 100, 103);
        FindingReport finding = Assert.Single(book.ToReport());
        Assert.Equal(2, finding.Count);
        Assert.Equal(At(10), finding.Start);
        Assert.Equal(At(13), finding.Raised);
        Assert.Null(finding.End);
        Assert.Equal("node.silent/can0/node-5", finding.Key);
    }

    private static void Close(FindingBook book, double at) => book.Close(Catalogue.NodeSilent, "can0", Subject.OfNode(5), At(at));

    [Fact]
    public void WhatComesAndGoesWithinAMinuteBecomesOneEpisode()
    {
        FindingBook book = new();
        Finding finding = Raise(book, 10, 13);
        Close(book, 20);
        Assert.Equal(At(20), finding.End);
        for (int i = 1; i <= 10; i++)
        {
            Raise(book, 20 + (30 * i), 20 + (30 * i));
            Close(book, 40 + (30 * i));
            book.OnTick(At(49 + (30 * i)));
        }

        Assert.Equal(2, finding.Count);
        Assert.Null(finding.End);
        Assert.False(book.IsOpen(Catalogue.NodeSilent, "can0", Subject.OfNode(5)));
        book.OnTick(At(400));
        Assert.Null(finding.End);
        book.OnTick(At(400.1));
        Assert.Equal(At(340), finding.End);
        Raise(book, 500, 503);
        Close(book, 510);
        Assert.Equal(3, finding.Count);
        Assert.Equal(At(510), finding.End);
    }

    [Fact]
    public void WhatComesBackAMinuteAfterItsEndDoesNotChatter()
    {
        FindingBook book = new();
        Finding finding = Raise(book, 10, 13);
        Close(book, 20);
        Raise(book, 78, 80);
        Close(book, 90);
        Assert.Equal(At(90), finding.End);
    }

    [Fact]
    public void EvidenceWhileItLastsIsNoNewEpisode()
    {
        FindingBook book = new();
        Raise(book, 10, 13, 0.8);
        Raise(book, 15, 16, 0.95);
        Raise(book, 17, 18, 0.5);
        FindingReport finding = Assert.Single(book.ToReport());
        Assert.Equal(1, finding.Count);
        Assert.Equal(0.95, finding.Confidence);
    }

    [Fact]
    public void AnEpisodeEndsWithItsLastEvidenceOnceTheHoldOffHasPassed()
    {
        FindingBook book = new();
        Finding finding = Raise(book, 10, 13);
        finding.HoldOff = TimeSpan.FromSeconds(60);
        book.OnTick(At(73));
        Assert.Null(finding.End);
        book.OnTick(At(73.1));
        Assert.Equal(At(13), finding.End);
    }

    [Fact]
    public void OtherNodesInterfacesAndKindsAreOtherFindings()
    {
        FindingBook book = new();
        Raise(book, 10, 13);
        book.Raise(Catalogue.NodeSilent, "can1", Subject.OfNode(5), At(10), At(13), 0.9);
        book.Raise(Catalogue.NodeSilent, "can0", Subject.OfNode(6), At(10), At(13), 0.9);
        book.Raise(Catalogue.NodeErrors, "can0", Subject.OfNode(5), At(10), At(13), 0.9);
        Assert.Equal(4, book.ToReport().Count);
        Assert.False(book.IsOpen(Catalogue.NodeSilent, "can0", Subject.OfNode(7)));
    }

    [Fact]
    public void NodesInAnyOrderAreOneSubject()
    {
        FindingBook book = new();
        book.Raise(Catalogue.NodeRestarted, "can0", Subject.OfNodes([7, 5, 6]), At(1), At(2), 0.9);
        book.Raise(Catalogue.NodeRestarted, "can0", Subject.OfNodes([5, 6, 7]), At(3), At(4), 0.9);
        Assert.Equal([5, 6, 7], Assert.Single(book.ToReport()).Nodes);
        Assert.Equal(Subject.OfNode(5).Key, Subject.OfNodes([5]).Key);
    }

    [Fact]
    public void TheOrderIsSeverityThenStartThenKindThenInterfaceThenNode()
    {
        FindingBook book = new();
        book.Raise(Catalogue.NodeReplaced, "can0", Subject.OfNode(1), At(1), At(9), 0.9);
        book.Raise(Catalogue.NodeErrors, "can0", Subject.OfNode(2), At(1), At(9), 0.9);
        book.Raise(Catalogue.NodeSilent, "can1", Subject.OfNode(3), At(5), At(9), 0.9);
        book.Raise(Catalogue.NodeSilent, "can0", Subject.OfNode(100), At(5), At(9), 0.9);
        book.Raise(Catalogue.NodeSilent, "can0", Subject.OfNode(20), At(5), At(9), 0.9);
        book.Raise(Catalogue.DuplicateAddress, "can0", Subject.OfNode(50), At(5), At(9), 0.9);
        book.Raise(Catalogue.NodeSilent, "can0", Subject.OfNode(9), At(4), At(9), 0.9);
        Assert.Equal(
            ["node.silent/can0/node-9", "node.duplicate-address/can0/node-50", "node.silent/can0/node-20", "node.silent/can0/node-100", "node.silent/can1/node-3", "node.errors/can0/node-2", "node.replaced/can0/node-1"],
            book.ToReport().Select(finding => finding.Key));
    }

    [Fact]
    public void OfManyEvidenceRowsTheFirstFourAndTheLastFourStay()
    {
        FindingBook book = new();
        Finding finding = Raise(book, 10, 13);
        for (int i = 0; i < 20; i++)
        {
            finding.AddEvidence(At(i), Named(i.ToString(System.Globalization.CultureInfo.InvariantCulture)));
        }

        Assert.Equal(["0", "1", "2", "3", "16", "17", "18", "19"], finding.ToReport(finding.Severity).Evidence.Select(row => row.Text));
    }

    [Fact]
    public void AFullBookRefusesAndCounts()
    {
        FindingBook book = new();
        for (int i = 0; i < Limits.Findings + 3; i++)
        {
            book.Raise(Catalogue.Flood, "can0", Subject.OfId(CanId.Extended((uint)i)), At(1), At(2), 0.9);
        }

        Assert.Equal(Limits.Findings, book.ToReport().Count);
        Assert.Equal(3, book.Refused);
    }

    [Fact]
    public void WhatExplainsAFaultIsAtLeastAsSevereAndStandsWithTheFaults()
    {
        FindingBook book = new();
        Finding whole = book.Raise(Catalogue.ErrorRate, "can0", Subject.WholeBus, At(0), At(1), 0.99);
        whole.Severity = Severity.Fault;
        Finding node = book.Raise(Catalogue.NodeErrors, "can0", Subject.OfNode(9), At(2), At(3), 0.99);
        whole.ExplainedBy = node.Key;
        book.Raise(Catalogue.InputChatter, "can0", Subject.OfNode(3), At(0), At(1), 0.99);

        Assert.Equal(
            [("bus.error-rate", "fault"), ("node.errors", "fault"), ("input.chatter", "warning")],
            book.ToReport().Select(finding => (finding.Finding, finding.Severity)));
    }
}
