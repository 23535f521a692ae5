using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Tests.Counting;

public sealed class EventTapeTests
{
    [Fact]
    public void TheRingForgetsTheOldestAndSaysWhichIsTheFirst()
    {
        EventTape tape = new();
        for (int at = 0; at < Limits.Events + 10; at++)
        {
            tape.Add(new(at), 0, BusEventKind.InputOn, 5, at);
        }

        Assert.Equal(10, tape.First);
        Assert.Equal(10, tape[tape.First].Number);
        Assert.Equal(Limits.Events + 9, tape[tape.Count - 1].Number);
    }

    /// <summary>CiA 301 and 401 by default: 185h is TPDO1 of node 5 with its inputs 1 to 8, 206h RPDO1 of node 6 with its outputs, 705h error control, 000h network commands, 085h emergency.</summary>
    [Fact]
    public void WhatHappensOnTheBusIsToldInOrderAndByTheNamesOfTheSite()
    {
        Core.AsBuilt.AsBuiltRecord site = new()
        {
            Nodes =
            [
                new() { Address = 5, Name = "workshop buttons", Inputs = [new(1, "door, upper", Core.AsBuilt.InputKind.PushButton)] },
                new() { Address = 6, Name = "workshop relays", Outputs = [new(2, "bench lights", null, [])] },
            ],
        };
        Analyzer analyzer = new(new() { SourceKind = "trace", SourceName = "test", Protocol = "canopen", BitRate = 125_000, Site = site });
        analyzer.OnInterface(0, new("can0"));
        double second = 0;
        Send(0x705, 0x05);
        Send(0x185, 0x00);
        Send(0x206, 0x00);
        Send(0x185, 0x01);
        Send(0x206, 0x02);
        Send(0x185, 0x01);
        Send(0x185, 0x00);
        Send(0x705, 0x7F);
        Send(0x000, 0x81, 0x05);
        Send(0x705, 0x00);
        Send(0x085, 0x20, 0x31, 0x05, 0, 0, 0, 0, 0);
        long before = analyzer.EventCount;
        Assert.Equal(
            [
                "workshop buttons (node 5) is operational",
                "“door, upper” (input 1 of workshop buttons (node 5)) became active",
                "“bench lights” (output 2 of workshop relays (node 6)) was commanded on",
                "“door, upper” (input 1 of workshop buttons (node 5)) became inactive",
                "workshop buttons (node 5) is pre-operational",
                "Reset node was commanded to workshop buttons (node 5)",
                "workshop buttons (node 5) started",
                "workshop buttons (node 5) sent an emergency message: input voltage too low (code 3120h)",
            ],
            analyzer.EventsFrom(0).Select(happened => happened.Text.English));
        Assert.Equal("can0", analyzer.EventsFrom(0).First().Interface);
        Assert.Empty(analyzer.EventsFrom(before));
        Send(0x185, 0x01);
        Assert.Equal((BusEventKind.InputOn, 5, 1), analyzer.EventsFrom(before).Select(happened => (happened.Kind, happened.Node, happened.Number)).Single());

        void Send(uint id, params byte[] data) =>
            analyzer.OnFrame(CanFrame.Classic(Instant.FromSeconds(second++), CanId.Base(id), data));
    }
}
