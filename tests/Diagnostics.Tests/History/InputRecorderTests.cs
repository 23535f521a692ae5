using Diagnostics.Agent.History;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Tests.History;

public sealed class InputRecorderTests
{
    private static BusEvent Change(double second, bool active, int input = 1) =>
        new(Instant.FromSeconds(second), "can0", active ? BusEventKind.InputOn : BusEventKind.InputOff, 5, input, Named("in words"));

    [Fact]
    public void OnlyChangesOfInputsAreTaken()
    {
        InputRecorder recorder = new();
        BusEvent output = Change(1, true) with { Kind = BusEventKind.OutputOn };
        Assert.Equal(
            [new InputEvent(Instant.FromSeconds(1), "can0", 5, 1, true), new InputEvent(Instant.FromSeconds(1.2), "can0", 5, 1, false)],
            recorder.OnEvents([Change(1, true), output, Change(1.2, false)]));
        Assert.Empty(recorder.OnEvents([]));
    }

    [Fact]
    public void AnInputThatFluttersIsCountedBeyondAMinutesShareAndOthersAreNot()
    {
        InputRecorder recorder = new();
        IReadOnlyList<InputEvent> minute = recorder.OnEvents([.. Enumerable.Range(0, 500).Select(step => Change(600 + (step / 10.0), step % 2 == 0)), Change(650, true, input: 2)]);
        Assert.Equal(InputRecorder.MostAMinute + 1, minute.Count);
        Assert.All(minute, change => Assert.Null(change.More));
        IReadOnlyList<InputEvent> next = recorder.OnEvents([Change(660, true)]);
        Assert.Equal([500 - InputRecorder.MostAMinute, null], next.Select(change => change.More));
        Assert.False(next[0].Active);
    }
}
