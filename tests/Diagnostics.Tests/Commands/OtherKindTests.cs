using System.Text;
using Diagnostics.Agent.Commands;

namespace Diagnostics.Tests.Commands;

/// <summary>A command that is given what another one takes says what it was given, and which command that is.</summary>
public sealed class OtherKindTests : IDisposable
{
    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("kinds");

    public void Dispose() => _directory.Delete(recursive: true);

    private async Task<string> RefusedAsync(string command, string name, byte[] content)
    {
        string path = Path.Combine(_directory.FullName, name);
        await File.WriteAllBytesAsync(path, content, TestContext.Current.CancellationToken);
        MemoryStream error = new();
        CommandContext context = new() { Input = Stream.Null, Output = Stream.Null, Error = error, Clock = new UtcClock(), Sources = RealSources.Create() };
        Assert.Equal(2, await CommandLine.RunAsync([command, path], context, TestContext.Current.CancellationToken));
        string line = Assert.Single(Encoding.UTF8.GetString(error.ToArray()).Split('\n', StringSplitOptions.RemoveEmptyEntries));
        return line.Replace(path, name, StringComparison.Ordinal).Replace("'" + name + "'", name, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("replay", "weekend.zip", "PK\u0003\u0004 and so on", "it is a bundle (or another zip archive), not a trace; see it with 'diagnostics open', or compare it with 'diagnostics compare'")]
    [InlineData("replay", "report.json", "{ \"schema\": 1 }", "it is a report document (or other JSON), not a trace; write it as a page with 'diagnostics report', or compare it with 'diagnostics compare'")]
    [InlineData("replay", "notes.txt", "it flickers", "line 1: neither a capture file (pcapng, pcap) nor a text log with lines like (seconds.micros) interface ID#DATA; give a pcapng or pcap capture of CAN, or a SocketCAN text log with time stamps")]
    [InlineData("open", "report.json", "\n{ \"schema\": 1 }", "it is a report document (or other JSON), not a bundle; write it as a page with 'diagnostics report', or compare it with 'diagnostics compare'")]
    [InlineData("open", "bus.log", "(1.5) can0 185#01\n", "it is no bundle, as that is a zip archive; analyse recorded traffic with 'diagnostics replay', or name the file that 'bundle' wrote")]
    [InlineData("open", "empty.zip", "", "it is empty; have the bundle made and copied anew")]
    [InlineData("open", "cut.zip", "PK\u0003\u0004", "it is no zip archive, or it was cut off; have the bundle made and copied anew")]
    public async Task ItSaysWhatItIsAndWhatTakesIt(string command, string name, string content, string told) =>
        Assert.Equal($"diagnostics: {name}: {told}.", await RefusedAsync(command, name, Encoding.ASCII.GetBytes(content)));

    [Fact]
    public async Task ACaptureIsNoBundle() => Assert.Contains(
        "analyse recorded traffic with 'diagnostics replay'", await RefusedAsync("open", "bus.pcapng", [0x0A, 0x0D, 0x0D, 0x0A, 28, 0, 0, 0, .. new byte[40]]), StringComparison.Ordinal);
}
