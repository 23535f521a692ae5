using System.Text.Json.Nodes;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Tests.Reporting;

public class ReportSchemaTests
{
    /// <summary>The example of the contract, with values in place of its ellipses.</summary>
    private const string Example = """
        {
          "schema": 1,
          "source": { "kind": "trace", "name": "morning.pcapng", "start": "2026-03-02T07:00:00.5Z", "end": "2026-03-02T08:00:00.123456789Z",
                      "notSeen": { "kernelDropped": 0, "queueDropped": 0, "damagedRecords": 1,
                                   "gaps": [ { "interface": "can0", "start": "2026-03-02T07:10:00Z", "end": "2026-03-02T07:10:01Z", "why": "the interface was down" } ] } },
          "buses": [ { "interface": "can0", "bitRate": 125000, "dataBitRate": null, "bitRateSource": "interface", "protocol": "canopen", "listenOnly": true,
                       "frames": 10, "remoteFrames": 0, "errorMessages": 0,
                       "loadMean": 0.31, "loadPeak1s": 0.5, "loadPeak100ms": 1.2, "errorLoadMean": 0.0,
                       "controllerState": "error-active", "transmitErrorCounter": null, "receiveErrorCounter": null,
                       "errors": { "bit": 0, "stuff": 0, "form": 0, "crc": 0, "ack": 0, "other": 0 }, "busOff": 0,
                       "nodes": [ { "address": 5, "name": null, "state": "pre-operational", "present": true,
                                    "firstHeard": "2026-03-02T07:00:00Z", "lastHeard": "2026-03-02T08:00:00Z", "frames": 9, "trafficShare": 0.02,
                                    "errorsOnItsFrames": 0, "restarts": 0, "heartbeatSeconds": 1.0, "silenceNoticedWithinSeconds": 3.5,
                                    "identity": { "vendor": null, "product": null, "revision": null, "serial": null, "name": null, "firmware": null } } ],
                       "identifiers": [ { "id": "0x185", "frames": 9, "periodSeconds": 0.1, "periodJitterSeconds": 0.0004, "trafficShare": 0.01, "node": 5 } ] } ],
          "findings": [ { "key": "node.duplicate-address can0 5", "finding": "node.duplicate-address", "severity": "fault",
                          "interface": "can0", "node": 5, "nodes": null, "otherNode": null, "input": null, "output": null, "id": null, "segment": null,
                          "start": "2026-03-02T07:00:00Z", "raised": "2026-03-02T07:00:01Z", "end": null, "count": 2, "confidence": 0.98,
                          "summary": "Two devices use address 5.",
                          "measurements": [ { "name": "errorRate", "value": 35.0, "unit": "1/h", "low": 24.4, "high": 48.7, "confidenceLevel": 0.95 } ],
                          "evidence": [ { "time": "2026-03-02T07:00:00Z", "text": "two heartbeats within one heartbeat time" } ],
                          "causes": [ { "cause": "address-set-twice", "probability": 0.9, "why": "w", "nextCheck": "n", "expect": "e", "caution": "c" } ] } ],
          "assurances": [ { "subject": "node 7", "statement": "no error on its frames", "observed": 1200000, "bound": 2.5e-6, "confidenceLevel": 0.95 } ]
        }
        """;

    [Fact]
    public void ExampleOfTheContractIsValid() => Assert.True(PublishedSchemas.Report.Accepts(JsonNode.Parse(Example)));

    [Fact]
    public void WhatTheProgramWritesIsValid()
    {
        Instant time = new(1_700_000_000_000_000_001);
        Report report = new(
            Report.CurrentSchema,
            new("live", "can0", time, null, new(0, 0, 0, [new(null, time, time, "why")])),
            [
                new()
                {
                    Interface = "can0",
                    BitRateSource = "unknown",
                    Protocol = "none",
                    Errors = new(0, 0, 0, 0, 0, 0),
                    Undecodable = new Dictionary<string, long> { ["pdoTooShort"] = 1 },
                    Nodes = [new() { Address = 5, FirstHeard = time, LastHeard = time, Identity = new(null, null, null, null, null, null) }],
                    Identifiers = [new("0x18EEFF21", 1, null, null, 0, null)],
                },
            ],
            [
                new()
                {
                    Key = "k",
                    Finding = "node.silent",
                    Severity = "fault",
                    Start = time,
                    Raised = time,
                    Count = 1,
                    Confidence = 1,
                    Summary = "s",
                    Measurements = [new("silence", 4, "s")],
                    Evidence = [new(time, "t")],
                    Causes = [new("unknown", 1, "w", "n", "e", null)],
                },
            ],
            [new("bus", "s", 1, null, null)]);

        Assert.True(PublishedSchemas.Report.Accepts(JsonNode.Parse(ReportJson.ToUtf8(report))));
    }

    [Theory]
    [InlineData("schema", "2")]
    [InlineData("source.kind", "\"tape\"")]
    [InlineData("source.start", "\"yesterday\"")]
    [InlineData("source.end", "\"2026-03-02T08:00:00.1234567891Z\"")]
    [InlineData("source.notSeen.kernelDropped", "-1")]
    [InlineData("source.notSeen.gaps.0.why", "null")]
    [InlineData("buses", "{}")]
    [InlineData("buses.0.bitRate", "0")]
    [InlineData("buses.0.bitRateSource", "\"guess\"")]
    [InlineData("buses.0.frames", "null")]
    [InlineData("buses.0.loadMean", "-0.1")]
    [InlineData("buses.0.controllerState", "\"happy\"")]
    [InlineData("buses.0.errors.ack", "0.5")]
    [InlineData("buses.0.nodes.0.state", "\"asleep\"")]
    [InlineData("buses.0.nodes.0.trafficShare", "1.1")]
    [InlineData("buses.0.nodes.0.identity.serial", "5")]
    [InlineData("buses.0.identifiers.0.id", "\"185\"")]
    [InlineData("buses.0.identifiers.0.id", "\"0x985\"")]
    [InlineData("buses.0.identifiers.0.id", "\"0x20000000\"")]
    [InlineData("findings.0.finding", "\"node.sleepy\"")]
    [InlineData("findings.0.severity", "\"error\"")]
    [InlineData("findings.0.input", "0")]
    [InlineData("findings.0.count", "0")]
    [InlineData("findings.0.confidence", "1.01")]
    [InlineData("findings.0.raised", "null")]
    [InlineData("findings.0.causes.0.cause", "\"gremlins\"")]
    [InlineData("findings.0.causes.0.probability", "-0.1")]
    [InlineData("findings.0.measurements.0.value", "\"35\"")]
    [InlineData("assurances.0.observed", "null")]
    public void BrokenMemberIsInvalid(string path, string value)
    {
        JsonNode document = JsonNode.Parse(Example)!;
        (JsonNode parent, string member) = PublishedSchemas.Find(document, path);
        parent[member] = JsonNode.Parse(value);

        Assert.False(PublishedSchemas.Report.Accepts(document));
    }

    [Theory]
    [InlineData("schema")]
    [InlineData("source")]
    [InlineData("buses")]
    [InlineData("findings")]
    [InlineData("assurances")]
    [InlineData("source.notSeen.gaps")]
    [InlineData("buses.0.controllerState")]
    [InlineData("buses.0.nodes.0.identity")]
    [InlineData("buses.0.identifiers.0.node")]
    [InlineData("findings.0.key")]
    [InlineData("findings.0.segment")]
    [InlineData("findings.0.evidence.0.time")]
    [InlineData("findings.0.causes.0.nextCheck")]
    public void MissingMemberIsInvalid(string path)
    {
        JsonNode document = JsonNode.Parse(Example)!;
        (JsonNode parent, string member) = PublishedSchemas.Find(document, path);
        Assert.True(parent.AsObject().Remove(member));

        Assert.False(PublishedSchemas.Report.Accepts(document));
    }

    [Fact]
    public void EvidenceHasAtMostEightRows()
    {
        JsonNode document = JsonNode.Parse(Example)!;
        JsonArray evidence = document["findings"]![0]!["evidence"]!.AsArray();
        while (evidence.Count < 8)
        {
            evidence.Add(evidence[0]!.DeepClone());
        }

        Assert.True(PublishedSchemas.Report.Accepts(document));
        evidence.Add(evidence[0]!.DeepClone());
        Assert.False(PublishedSchemas.Report.Accepts(document));
    }

    [Theory]
    [InlineData("later")]
    [InlineData("source.later")]
    [InlineData("buses.0.later")]
    [InlineData("buses.0.nodes.0.later")]
    [InlineData("findings.0.causes.0.later")]
    public void MembersAddedLaterAreValid(string path)
    {
        JsonNode document = JsonNode.Parse(Example)!;
        (JsonNode parent, string member) = PublishedSchemas.Find(document, path);
        parent[member] = 5;

        Assert.True(PublishedSchemas.Report.Accepts(document));
    }
}
