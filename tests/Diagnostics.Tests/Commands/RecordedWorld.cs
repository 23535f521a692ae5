using System.Text;
using Diagnostics.Agent;
using Diagnostics.Agent.Commands;
using Diagnostics.Can;

namespace Diagnostics.Tests.Commands;

/// <summary>A world in which a command runs: its streams are memory, its sources hand over given frames.</summary>
internal sealed class RecordedWorld
{
    public MemoryStream Output { get; } = new();

    public MemoryStream Error { get; } = new();

    public Dictionary<string, string> Environment { get; init; } = new(StringComparer.Ordinal);

    public IReadOnlyList<string>? TracesOpened { get; private set; }

    public AgentSettings? LiveSettings { get; private set; }

    public string OutputText => Encoding.UTF8.GetString(Output.ToArray());

    public string ErrorText => Encoding.UTF8.GetString(Error.ToArray());

    public Task<int> RunAsync(params string[] arguments) => CommandLine.RunAsync(
        arguments,
        new()
        {
            Input = new MemoryStream(),
            Output = Output,
            Error = Error,
            Clock = new UtcClock(),
            Environment = Environment,
            Sources = new()
            {
                Live = (settings, _) =>
                {
                    LiveSettings = settings;
                    throw new SettingException("can0", "this world has no interfaces", "use another");
                },
                Trace = (traces, _) =>
                {
                    TracesOpened = traces;
                    return traces.Contains("no-trace.bin") ? throw new SettingException("no-trace.bin", "it is no trace", "name one") : new Traffic();
                },
                Simulated = _ => throw new SettingException("demo", "this world has no site", "use another"),
            },
        },
        TestContext.Current.CancellationToken);

    /// <summary>Three minutes of one identifier, ten times a second.</summary>
    private sealed class Traffic : IBusSource
    {
        private int _sent = -1;

        public string Kind => "trace";

        public string Name => "three minutes";

        public Instant? Now => null;

        public bool Read(IFrameSink sink, TimeSpan patience, CancellationToken cancellation)
        {
            if (_sent < 0)
            {
                sink.OnInterface(0, new("can0") { BitRate = 125_000 });
            }

            for (int count = 0; count < 100 && _sent < 1800; count++)
            {
                _sent++;
                CanFrame frame = CanFrame.Classic(Instant.FromSeconds(1_700_000_000) + TimeSpan.FromSeconds(_sent * 0.1), CanId.Base(0x185), [1, 2]);
                sink.OnFrame(in frame);
            }

            return _sent < 1800;
        }

        public void Dispose()
        {
        }
    }
}
