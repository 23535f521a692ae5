using Diagnostics.Agent;
using Diagnostics.Agent.Boards;
using Diagnostics.Agent.Boards.Signals;
using Diagnostics.Agent.Commands;
using Diagnostics.Agent.Languages;
using Diagnostics.Agent.Pages;
using Diagnostics.Tests.Boards.Emulated;
using Diagnostics.Tests.Pages;
using Microsoft.Extensions.Logging.Abstractions;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Tests.Commands;

public sealed class BoardCommandTests : IDisposable
{
    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("board-command");
    private readonly MemoryStream _output = new();
    private readonly MemoryStream _error = new();
    private readonly EmulatedBme280 _air = new(new());

    public void Dispose() => _directory.Delete(recursive: true);

    private string Settings(string json)
    {
        string path = Path.Combine(_directory.FullName, "agent.json");
        File.WriteAllText(path, json);
        return path;
    }

    private async Task<string> RunAsync(string settings, params string[] arguments)
    {
        string path = Settings(settings);
        BoardPorts ports = new(
            (_, address) => address == 0x76 ? _air : throw new IOException("Can not open I2C device file '/dev/i2c-1'."), _ => throw new IOException("there is no /dev/gpiochip0"), TimeProvider.System);
        int code = await CommandLine.RunAsync(
            ["board", .. arguments],
            new()
            {
                Input = Stream.Null,
                Output = _output,
                Error = _error,
                Environment = new Dictionary<string, string> { [AgentSettingsReader.PathVariable] = path },
                Sources = new() { Live = (_, _) => throw new NotSupportedException(), Trace = (_, _) => throw new NotSupportedException(), Simulated = _ => throw new NotSupportedException() },
                Ports = ports,
            },
            TestContext.Current.CancellationToken);
        Assert.Equal(0, code);
        return System.Text.Encoding.UTF8.GetString(_output.ToArray());
    }

    [Fact]
    public async Task WithoutAServiceTheSensorsAreReadHere()
    {
        string text = await RunAsync("""{ "port": 0, "board": { "temperature": false, "air": {}, "supply": {}, "button": { "pin": 3 } } }""");
        Assert.Contains("Air sensor (BME280, I2C bus 1, 0x76): works\n    air                25.1 °C\n    relative humidity", text, StringComparison.Ordinal);
        Assert.Contains("Supply sensor (INA219, I2C bus 1, 0x40): in trouble\n    Supply sensor (INA219, I2C bus 1, 0x40) is in the settings and was not found: it does not answer (Can not open", text, StringComparison.Ordinal);
        Assert.Contains("button (gpiochip0, line 3): not tried here", text, StringComparison.Ordinal);
        Assert.Contains("no service answers", System.Text.Encoding.UTF8.GetString(_error.ToArray()), StringComparison.Ordinal);
    }

    [Fact]
    public async Task NothingFittedIsSaid() => Assert.Contains("nothing; see \"board\" in the settings", await RunAsync("""{ "port": 0, "board": { "temperature": false } }"""), StringComparison.Ordinal);

    [Fact]
    public async Task ARunningServiceIsAskedAndAnswersWithTheCheck()
    {
        AgentState state = new() { KeepsLog = true, Report = SampleReports.Rich() };
        state.SetTrouble(nameof(BoardEventKind.MarkerButton), SampleReports.Rich().Source.End!.Value, Say($"Button: there is no such chip."));
        TaskCompletionSource<string> address = new(TaskCreationOptions.RunContinuationsAsynchronously);
        using PageService page = new(
            0, new(state, TimeProvider.System) { Board = new(new() { Light = new(17, -1), Button = new(3, null) }, new(state, new(), TimeProvider.System)) }, given => address.TrySetResult(given), NullLogger<PageService>.Instance);
        await page.StartAsync(TestContext.Current.CancellationToken);
        int port = new Uri(await address.Task).Port;
        string text = await RunAsync("{}", "--port", port.ToString(System.Globalization.CultureInfo.InvariantCulture));
        await page.StopAsync(CancellationToken.None);
        Assert.Contains("status light (gpiochip0, green at line 17): works\n", text, StringComparison.Ordinal);
        Assert.Contains("button (gpiochip0, line 3): in trouble\n    Button: there is no such chip.\n", text, StringComparison.Ordinal);
        Assert.Contains("Check after clipping on: ", text, StringComparison.Ordinal);
        Assert.Contains("  ?    Our own terminator: can’t tell from here.", text, StringComparison.Ordinal);
        Assert.Contains("  yes  The log is being written.", text, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("en")]
    [InlineData("de")]
    public async Task TheCardIsThatOfTheLight(string language) =>
        Assert.Equal(Card.Render(Language.Find(language)!).TrimEnd('\n') + "\n", await RunAsync("{}", "--card", "--language", language));
}
