namespace Diagnostics.Agent.Boards;

/// <summary>The end of the service, for threads that may come back from a call after everything else is gone: it holds nothing that could be disposed before them.</summary>
internal sealed class Ending
{
    private readonly TaskCompletionSource _came = new(TaskCreationOptions.RunContinuationsAsynchronously);

    public Ending(CancellationToken stopping) => stopping.Register(() => _came.TrySetResult());

    public bool HasCome => _came.Task.IsCompleted;

    /// <summary>Waits, at most until the end.</summary>
    public void Wait(TimeSpan span) => _came.Task.Wait(span);
}
