using System.Text;
using Diagnostics.Core.AsBuilt;

namespace Diagnostics.Tests.AsBuilt;

public class AsBuiltReaderTests
{
    /// <summary>The example of the contract, with every member that it names.</summary>
    internal const string Example = """
        { "schema": 1, "site": "Wrenfield community library", "bitRate": 125000, "protocol": "canopen",
          "trunk": [ { "terminatorOhms": 120 }, { "node": 1, "metres": 0 }, { "node": 5, "metres": 12.5 }, { "clip": true, "metres": 2 },
                     { "node": 7, "metres": 8 }, { "terminatorOhms": 120 } ],
          "nodes": [ { "address": 5, "name": "workshop buttons", "type": "8 in, 8 out", "serial": "0042", "firmware": "1.2",
                       "inputs":  [ { "input": 1, "name": "door, upper", "kind": "push-button" } ],
                       "outputs": [ { "output": 1, "name": "bench lights", "kind": "relay", "switchedBy": [ { "node": 5, "input": 1, "press": "short" } ] } ],
                       "pdoMapping": { "TPDO2": [ "6200:01" ] } } ] }
        """;

    [Fact]
    public void ExampleIsRead()
    {
        AsBuiltRecord record = Read(Example, out IReadOnlyList<AsBuiltRemark> remarks);

        Assert.Empty(remarks);
        Assert.Equal("Wrenfield community library", record.Site);
        Assert.Equal(125_000, record.BitRate);
        Assert.Equal("canopen", record.Protocol);
        Assert.Equal(
            [
                new(null, 120, false, null), new(1, null, false, 0), new(5, null, false, 12.5), new(null, null, true, 2), new(7, null, false, 8),
                new(null, 120, false, null),
            ],
            record.Trunk);
        BuiltNode node = Assert.Single(record.Nodes);
        Assert.Equal(5, node.Address);
        Assert.Equal("workshop buttons", node.Name);
        Assert.Equal("8 in, 8 out", node.Type);
        Assert.Equal("0042", node.Serial);
        Assert.Equal("1.2", node.Firmware);
        Assert.Equal(new BuiltInput(1, "door, upper", InputKind.PushButton), Assert.Single(node.Inputs));
        BuiltOutput output = Assert.Single(node.Outputs);
        Assert.Equal((1, "bench lights", "relay"), (output.Output, output.Name, output.Kind));
        Assert.Equal(new SwitchedBy(5, 1, "short"), Assert.Single(output.SwitchedBy));
        Assert.Equal([new MappedObject(0x6200, 1)], node.PdoMapping["TPDO2"]);
    }

    [Theory]
    [InlineData("", 1, 1)]
    [InlineData("\uFEFF \r\n", 1, 1)]
    public void ARecordOfNothingIsToldAsSuch(string json, int line, int column)
    {
        Assert.False(AsBuiltReader.TryRead(Encoding.UTF8.GetBytes(json), out _, out AsBuiltError? error));
        Assert.Equal((line, column, "there is nothing in it"), (error!.Line, error.Column, error.Problem.English));
    }

    [Theory]
    [InlineData("""{"schema":1}""")]
    [InlineData("""{"site":null,"bitRate":null,"trunk":null,"nodes":null,"schema":1}""")]
    [InlineData("""{"schema":1,"nodes":[],"trunk":[]}""")]
    public void EverythingButTheSchemaMayBeMissing(string json)
    {
        AsBuiltRecord record = Read(json, out IReadOnlyList<AsBuiltRemark> remarks);

        Assert.Empty(remarks);
        Assert.Null(record.Site);
        Assert.Null(record.BitRate);
        Assert.Empty(record.Trunk);
        Assert.Empty(record.Nodes);
    }

    [Theory]
    [InlineData("push-button", InputKind.PushButton)]
    [InlineData("switch", InputKind.Switch)]
    [InlineData("contact", InputKind.Contact)]
    [InlineData("motion", InputKind.Motion)]
    public void KindsOfInputAreRead(string word, InputKind kind) =>
        Assert.Equal(kind, Read($$"""{"schema":1,"nodes":[{"address":1,"inputs":[{"input":1,"kind":"{{word}}"}]}]}""", out _).Nodes[0].Inputs[0].Kind);

    [Fact]
    public void InputWithoutAKindIsOfUnknownKind() =>
        Assert.Equal(InputKind.Unknown, Read("""{"schema":1,"nodes":[{"address":1,"inputs":[{"input":1}]}]}""", out _).Nodes[0].Inputs[0].Kind);

    [Fact]
    public void MappingIsHexadecimalAndKeepsItsOrder()
    {
        AsBuiltRecord record = Read("""{"schema":1,"nodes":[{"address":127,"pdoMapping":{"TPDO1":["6000:0A","62aF:fe"],"RPDO4":[]}}]}""", out _);

        Assert.Equal([new(0x6000, 0x0A), new(0x62AF, 0xFE)], record.Nodes[0].PdoMapping["TPDO1"]);
        Assert.Empty(record.Nodes[0].PdoMapping["RPDO4"]);
    }

    [Theory]
    [InlineData("""{}""", 1, 1, "$.schema")]
    [InlineData("""{"schema":2}""", 1, 11, "$.schema")]
    [InlineData("""{"schema":"1"}""", 1, 11, "$.schema")]
    [InlineData("""{"schema":null}""", 1, 11, "$.schema")]
    [InlineData("""{"schema":1.5}""", 1, 11, "$.schema")]
    [InlineData("""{"nodes":5,"schema":2}""", 1, 21, "$.schema")]
    [InlineData("""[1]""", 1, 1, "$")]
    [InlineData("""{"schema":1,"site":5}""", 1, 20, "$.site")]
    [InlineData("""{"schema":1,"site":"a\u0009b"}""", 1, 20, "$.site")]
    [InlineData("""{"schema":1,"site":"\ud800"}""", 1, 20, "$.site")]
    [InlineData("""{"schema":1,"bitRate":"fast"}""", 1, 23, "$.bitRate")]
    [InlineData("""{"schema":1,"bitRate":125.5}""", 1, 23, "$.bitRate")]
    [InlineData("""{"schema":1,"bitRate":4999}""", 1, 23, "$.bitRate")]
    [InlineData("""{"schema":1,"bitRate":1000001}""", 1, 23, "$.bitRate")]
    [InlineData("""{"schema":1,"schema":1}""", 1, 13, "$.schema")]
    [InlineData("""{"schema":1,"trunk":{}}""", 1, 21, "$.trunk")]
    [InlineData("""{"schema":1,"trunk":[5]}""", 1, 22, "$.trunk[0]")]
    [InlineData("""{"schema":1,"trunk":[{"metres":1}]}""", 1, 22, "$.trunk[0]")]
    [InlineData("""{"schema":1,"trunk":[{"clip":false}]}""", 1, 22, "$.trunk[0]")]
    [InlineData("""{"schema":1,"trunk":[{"clip":1}]}""", 1, 30, "$.trunk[0].clip")]
    [InlineData("""{"schema":1,"trunk":[{"node":1,"clip":true}]}""", 1, 22, "$.trunk[0]")]
    [InlineData("""{"schema":1,"trunk":[{"node":1,"terminatorOhms":120}]}""", 1, 22, "$.trunk[0]")]
    [InlineData("""{"schema":1,"trunk":[{"node":1},{"node":1}]}""", 1, 41, "$.trunk[1].node")]
    [InlineData("""{"schema":1,"trunk":[{"node":1,"metres":-1}]}""", 1, 41, "$.trunk[0].metres")]
    [InlineData("""{"schema":1,"trunk":[{"node":1,"metres":1e999}]}""", 1, 41, "$.trunk[0].metres")]
    [InlineData("""{"schema":1,"trunk":[{"node":1,"metres":"2"}]}""", 1, 41, "$.trunk[0].metres")]
    [InlineData("""{"schema":1,"trunk":[{"terminatorOhms":0}]}""", 1, 40, "$.trunk[0].terminatorOhms")]
    [InlineData("""{"schema":1,"trunk":[{"node":0}]}""", 1, 30, "$.trunk[0].node")]
    [InlineData("""{"schema":1,"nodes":[{}]}""", 1, 22, "$.nodes[0].address")]
    [InlineData("""{"schema":1,"nodes":[null]}""", 1, 22, "$.nodes[0]")]
    [InlineData("""{"schema":1,"nodes":[{"address":0}]}""", 1, 33, "$.nodes[0].address")]
    [InlineData("""{"schema":1,"nodes":[{"address":128}]}""", 1, 33, "$.nodes[0].address")]
    [InlineData("""{"schema":1,"nodes":[{"address":99999999999}]}""", 1, 33, "$.nodes[0].address")]
    [InlineData("""{"schema":1,"nodes":[{"address":true}]}""", 1, 33, "$.nodes[0].address")]
    [InlineData("""{"schema":1,"nodes":[{"address":5},{"address":5}]}""", 1, 47, "$.nodes[1].address")]
    [InlineData("""{"schema":1,"nodes":[{"address":5,"inputs":[{}]}]}""", 1, 45, "$.nodes[0].inputs[0].input")]
    [InlineData("""{"schema":1,"nodes":[{"address":5,"inputs":[{"input":0}]}]}""", 1, 54, "$.nodes[0].inputs[0].input")]
    [InlineData("""{"schema":1,"nodes":[{"address":5,"inputs":[{"input":2033}]}]}""", 1, 54, "$.nodes[0].inputs[0].input")]
    [InlineData("""{"schema":1,"nodes":[{"address":5,"inputs":[{"input":1},{"input":1}]}]}""", 1, 66, "$.nodes[0].inputs[1].input")]
    [InlineData("""{"schema":1,"nodes":[{"address":5,"inputs":[{"kind":"button"}]}]}""", 1, 53, "$.nodes[0].inputs[0].kind")]
    [InlineData("""{"schema":1,"nodes":[{"address":5,"inputs":[{"kind":1}]}]}""", 1, 53, "$.nodes[0].inputs[0].kind")]
    [InlineData("""{"schema":1,"nodes":[{"address":5,"outputs":[{"output":-1}]}]}""", 1, 56, "$.nodes[0].outputs[0].output")]
    [InlineData("""{"schema":1,"nodes":[{"address":5,"outputs":[{"kind":"lamp"}]}]}""", 1, 54, "$.nodes[0].outputs[0].kind")]
    [InlineData("""{"schema":1,"nodes":[{"address":5,"outputs":[{"switchedBy":[{"input":1}]}]}]}""", 1, 61, "$.nodes[0].outputs[0].switchedBy[0].node")]
    [InlineData("""{"schema":1,"nodes":[{"address":5,"outputs":[{"switchedBy":[{"node":1}]}]}]}""", 1, 61, "$.nodes[0].outputs[0].switchedBy[0].input")]
    [InlineData("""{"schema":1,"nodes":[{"address":5,"outputs":[{"switchedBy":[{"press":"double"}]}]}]}""", 1, 70, "$.nodes[0].outputs[0].switchedBy[0].press")]
    [InlineData("""{"schema":1,"nodes":[{"address":5,"pdoMapping":[]}]}""", 1, 48, "$.nodes[0].pdoMapping")]
    [InlineData("""{"schema":1,"nodes":[{"address":5,"pdoMapping":{"TPDO5":[]}}]}""", 1, 57, "$.nodes[0].pdoMapping.TPDO5")]
    [InlineData("""{"schema":1,"nodes":[{"address":5,"pdoMapping":{"TPDO1":["6000"]}}]}""", 1, 58, "$.nodes[0].pdoMapping.TPDO1[0]")]
    [InlineData("""{"schema":1,"nodes":[{"address":5,"pdoMapping":{"TPDO1":["6000:1"]}}]}""", 1, 58, "$.nodes[0].pdoMapping.TPDO1[0]")]
    [InlineData("""{"schema":1,"nodes":[{"address":5,"pdoMapping":{"TPDO1":["60g0:01"]}}]}""", 1, 58, "$.nodes[0].pdoMapping.TPDO1[0]")]
    [InlineData("""{"schema":1,"nodes":[{"address":5,"pdoMapping":{"TPDO1":["0000:01"]}}]}""", 1, 58, "$.nodes[0].pdoMapping.TPDO1[0]")]
    [InlineData("""{"schema":1,"nodes":[{"address":5,"pdoMapping":{"TPDO1":[" 600:01"]}}]}""", 1, 58, "$.nodes[0].pdoMapping.TPDO1[0]")]
    [InlineData("""{"schema":1,"nodes":[{"address":5,"pdoMapping":{"TPDO1":[6000]}}]}""", 1, 58, "$.nodes[0].pdoMapping.TPDO1[0]")]
    public void WhatIsWrongIsToldWithItsPlace(string json, int line, int column, string path)
    {
        AsBuiltError error = Refuse(Encoding.UTF8.GetBytes(json));

        Assert.Equal((line, column, path), (error.Line, error.Column, error.Path));
        Assert.NotEmpty(error.Problem.English);
        Assert.NotEmpty(error.Remedy.English);
        Assert.DoesNotContain('\n', error.ToString());
    }

    [Fact]
    public void ErrorIsOneLineThatSaysWhereWhatAndWhatToDo()
    {
        AsBuiltError error = Refuse("{\n  \"schema\": 1,\r\n  \"site\": \"Büro\", \"nodes\": [ { \"address\": 130 } ]\n}"u8.ToArray());

        // Columns count characters: the ü before it is one.
        Assert.Equal("line 3, column 43, $.nodes[0].address: 130 is outside 1 to 127; give the address that is set on the node", error.ToString());
    }

    [Theory]
    [InlineData("", 1, 1)]
    [InlineData("{\"schema\":1", 1, 12)]
    [InlineData("{\n\"schema\":1,\n}", 3, 1)]
    [InlineData("{\"schema\":1} x", 1, 14)]
    [InlineData("// no comments\n{\"schema\":1}", 1, 1)]
    public void BrokenJsonIsToldWithItsPlace(string json, int line, int column)
    {
        AsBuiltError error = Refuse(Encoding.UTF8.GetBytes(json));

        Assert.Equal((line, column, "$"), (error.Line, error.Column, error.Path));
    }

    [Fact]
    public void TextThatIsNotUtf8IsRefusedWhereItIsNot()
    {
        byte[] text = [.. "{\"schema\":1,\n\"site\":\"B"u8, 0xFC, .. "ro\"}"u8];

        AsBuiltError error = Refuse(text);
        Assert.Equal((2, 10, "the text is not UTF-8"), (error.Line, error.Column, error.Problem.English));
    }

    [Fact]
    public void ByteOrderMarkIsPassedOver() => Read("\uFEFF{\"schema\":1}", out _);

    [Fact]
    public void SizeAtTheLimitIsReadAndJustOverRefused()
    {
        byte[] text = new byte[AsBuiltLimits.Bytes + 1];
        Array.Fill(text, (byte)' ');
        "{\"schema\":1}"u8.CopyTo(text);

        Assert.True(AsBuiltReader.TryRead(text.AsSpan(0, AsBuiltLimits.Bytes), out _, out _));
        Assert.Contains("1000001 bytes", Refuse(text).Problem.English, StringComparison.Ordinal);
    }

    [Fact]
    public void AllAddressesAreReadAndOneMoreNodeRefused()
    {
        string nodes = string.Join(',', Enumerable.Range(1, 127).Select(address => $$"""{"address":{{address}}}"""));

        Assert.Equal(127, Read($$"""{"schema":1,"nodes":[{{nodes}}]}""", out _).Nodes.Count);
        Assert.Equal("$.nodes[127]", Refuse(Encoding.UTF8.GetBytes($$"""{"schema":1,"nodes":[{{nodes}},{"address":1}]}""")).Path);
    }

    [Theory]
    [InlineData(100, true)]
    [InlineData(101, false)]
    public void TextIsLimited(int length, bool isRead) =>
        Assert.Equal(isRead, AsBuiltReader.TryRead(Encoding.UTF8.GetBytes($$"""{"schema":1,"site":"{{new string('a', length)}}"}"""), out _, out _));

    [Fact]
    public void UnknownMembersAreIgnoredAndTold()
    {
        AsBuiltRecord record = Read(
            """
            { "schema": 1, "colour": { "address": [ 1, { "x": null } ] },
              "nodes": [ { "address": 5, "rack": 3, "inputs": [ { "input": 1, "level": "low" } ] } ] }
            """,
            out IReadOnlyList<AsBuiltRemark> remarks);

        Assert.Equal(5, Assert.Single(record.Nodes).Address);
        Assert.Equal(["$.colour", "$.nodes[0].rack", "$.nodes[0].inputs[0].level"], remarks.Select(remark => remark.Path));
        Assert.Equal((1, 26), (remarks[0].Line, remarks[0].Column));
        Assert.Equal("line 2, column 38, $.nodes[0].rack: this member is not known and was ignored", remarks[1].ToString());
    }

    [Fact]
    public void OutputSwitchedByANodeThatIsNotListedIsTold()
    {
        AsBuiltRecord record = Read(
            """{"schema":1,"nodes":[{"address":5,"outputs":[{"output":1,"switchedBy":[{"node":9,"input":1},{"node":6,"input":1}]}]},{"address":6}]}""",
            out IReadOnlyList<AsBuiltRemark> remarks);

        Assert.Equal(2, record.Nodes[0].Outputs[0].SwitchedBy.Count);
        AsBuiltRemark remark = Assert.Single(remarks);
        Assert.Equal("$.nodes[0].outputs[0].switchedBy[0].node", remark.Path);
        Assert.Contains("node 9", remark.Text.English, StringComparison.Ordinal);
    }

    [Fact]
    public void RemarksAreLimited()
    {
        string members = string.Concat(Enumerable.Range(0, 500).Select(i => $",\"x{i}\":1"));

        Read("{\"schema\":1" + members + "}", out IReadOnlyList<AsBuiltRemark> remarks);
        Assert.Equal(AsBuiltLimits.Remarks, remarks.Count);
    }

    [Fact]
    public void EveryTruncatedLengthIsRefusedWithoutAnException()
    {
        byte[] text = Encoding.UTF8.GetBytes(Example.Trim());
        for (int length = 0; length < text.Length; length++)
        {
            Assert.False(AsBuiltReader.TryRead(text.AsSpan(0, length), out AsBuiltRecord? record, out AsBuiltError? error));
            Assert.Null(record);
            Assert.NotNull(error);
        }
    }

    [Fact]
    public void EveryByteReplacedIsJudgedWithoutAnException()
    {
        byte[] text = Encoding.UTF8.GetBytes(Example);
        int refused = 0;
        int tried = 0;
        foreach (byte replacement in "0\"{]:,\\-\0\n"u8.ToArray().Append((byte)0xC3))
        {
            for (int i = 0; i < text.Length; i++)
            {
                byte[] broken = [.. text];
                broken[i] = replacement;
                tried++;
                if (!AsBuiltReader.TryRead(broken, out AsBuiltRecord? record, out AsBuiltError? error))
                {
                    refused++;
                    Assert.Null(record);
                    Assert.True(error!.Line >= 1 && error.Column >= 1);
                }
                else
                {
                    Assert.NotNull(record);
                    Assert.Null(error);
                }
            }
        }

        Assert.InRange(refused, tried / 4, tried);
    }

    private static AsBuiltRecord Read(string json, out IReadOnlyList<AsBuiltRemark> remarks)
    {
        bool isRead = AsBuiltReader.TryRead(Encoding.UTF8.GetBytes(json), out AsBuiltRecord? record, out AsBuiltError? error, out remarks);
        Assert.True(isRead, error?.ToString());
        return record!;
    }

    private static AsBuiltError Refuse(byte[] text)
    {
        Assert.False(AsBuiltReader.TryRead(text, out AsBuiltRecord? record, out AsBuiltError? error));
        Assert.Null(record);
        return error!;
    }
}
