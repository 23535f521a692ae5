using System.Runtime.InteropServices;

namespace Diagnostics.Agent.Commands;

/// <summary>Ctrl-C, or the end that a system asks for, while a command has something to tidy up.</summary>
internal sealed class Interruption : IDisposable
{
    private readonly CancellationTokenSource _source;
    private readonly PosixSignalRegistration[] _signals;

    public Interruption(CancellationToken cancellation)
    {
        _source = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
        _signals = [PosixSignalRegistration.Create(PosixSignal.SIGINT, OnSignal), PosixSignalRegistration.Create(PosixSignal.SIGTERM, OnSignal)];
    }

    public CancellationToken Token => _source.Token;

    public void Dispose()
    {
        foreach (PosixSignalRegistration signal in _signals)
        {
            signal.Dispose();
        }

        _source.Dispose();
    }

    private void OnSignal(PosixSignalContext signal)
    {
        signal.Cancel = true;
        _source.Cancel();
    }
}
