using Diagnostics.Agent.History;
using Diagnostics.Can;

namespace Diagnostics.Agent.Chronicles;

/// <summary>A log or bundle that nobody writes, asked by one reader after the other.</summary>
internal sealed class OpenedLog(StoredHistory log) : IChronicleReader, IDisposable
{
    private readonly SemaphoreSlim _turn = new(1);
    private readonly Chronicle _chronicle = new(log);

    public long Version => 0;

    public async Task<Stretch> ReadAsync(Instant from, Instant to, int columns, CancellationToken cancellation)
    {
        await _turn.WaitAsync(cancellation).ConfigureAwait(false);
        try
        {
            return _chronicle.Of(from, to, columns);
        }
        finally
        {
            _turn.Release();
        }
    }

    public void Dispose() => _turn.Dispose();
}
