using Diagnostics.Agent;
using Diagnostics.Agent.Boards;
using Microsoft.Extensions.Logging.Abstractions;

namespace Diagnostics.Tests.Boards;

public sealed class BoardServiceTests : IDisposable
{
    private readonly DirectoryInfo _root = Directory.CreateTempSubdirectory("board-service");
    private readonly AgentState _state = new();

    public void Dispose() => _root.Delete(recursive: true);

    private BoardService Service() => new(new(_root.FullName, null), _state, TimeProvider.System, NullLogger<BoardService>.Instance);

    private string Alarm()
    {
        string folder = Path.Combine(_root.FullName, "sys/class/hwmon/hwmon0");
        Directory.CreateDirectory(folder);
        return Path.Combine(folder, "in0_lcrit_alarm");
    }

    [Fact]
    public async Task AnAlarmIsShownAsTroubleAndHandedToTheLog()
    {
        File.WriteAllText(Alarm(), "1\n");
        using BoardService service = Service();
        await service.StartAsync(TestContext.Current.CancellationToken);
        await Patience.UntilAsync(() => !_state.Troubles.IsEmpty);
        await service.StopAsync(TestContext.Current.CancellationToken);
        Assert.True(_state.Board!.SupplyIsLow);
        Trouble trouble = Assert.Single(_state.Troubles);
        Assert.Contains("says nothing about that of the bus", trouble.Text.English, StringComparison.Ordinal);
        BoardEvent told = Assert.Single(_state.TakeBoardNews(new(7)));
        Assert.Equal((new Diagnostics.Can.Instant(7), BoardEventKind.SupplyLow, false, trouble.Text.English), (told.Time, told.Kind, told.IsOver, told.Text));
    }
}
