using Diagnostics.Agent.Commands;
using Diagnostics.Can;
using Microsoft.Extensions.Logging;

namespace Diagnostics.Agent.Buses;

/// <summary>
/// Real interfaces as a source: the reader thread fills the bounded queue, this drains it on the consumer's thread. When the consumer falls behind the queue
/// overflows, and what was dropped is told as not seen.
/// </summary>
internal sealed class LiveSource : IBusSource
{
    /// <summary>What is waited for when the board has no CAN interface yet (the usual first name of the kernel).</summary>
    private const string FirstInterface = "can0";

    private readonly BusQueue _queue = new(WhenFull.Count);
    private readonly SocketCanSource _reader;
    private bool _started;

    /// <exception cref="SettingException">The board's interfaces can't be listed or opened at all.</exception>
    public LiveSource(IReadOnlyList<string> interfaces, ILogger? logger = null)
    {
        try
        {
            string[] names = interfaces.Count > 0 ? [.. interfaces] : Present();
            Name = string.Join(", ", names);
            _reader = new(names, _queue, new() { ReadsLaterOnes = interfaces.Count == 0 }, logger);
        }
        catch (SystemCallException problem)
        {
            throw new SettingException("listen", problem.Message.TrimEnd('.'), "use a kernel with CAN support (modules can and can-raw)");
        }
    }

    public string Kind => "live";

    public string Name { get; }

    public Instant? Now { get; private set; }

    public Instant? ThisMoment => _reader.ThisMoment;

    public TimeSpan WallMinusLine => _reader.WallMinusLine;

    public bool Read(IFrameSink sink, TimeSpan patience, CancellationToken cancellation)
    {
        if (!_started)
        {
            _started = true;
            _reader.Start();
        }

        bool goesOn = _queue.Drain(sink, patience, cancellation, out Instant? tick);
        Now = tick ?? Now;
        return goesOn;
    }

    public void Dispose() => _reader.Dispose();

    private static string[] Present()
    {
        using LinkQuery links = new();
        string[] names = [.. links.All().Where(link => link.IsCan).Select(link => link.Name).Take(SocketCanOptions.MaxInterfaces)];
        return names.Length > 0 ? names : [FirstInterface];
    }
}
