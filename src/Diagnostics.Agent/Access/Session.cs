namespace Diagnostics.Agent.Access;

/// <summary>Somebody who signed in from another device.</summary>
/// <param name="key">What it is found by.</param>
/// <param name="begun">On the clock of <see cref="Sessions"/>.</param>
internal sealed class Session(string key, TimeSpan begun)
{
    private readonly CancellationTokenSource _ended = new();

    /// <summary>Falls when it ends, however that comes.</summary>
    public CancellationToken Ended => _ended.Token;

    public void End() => _ended.Cancel();

    public string Key => key;

    public TimeSpan Begun { get; } = begun;

    public TimeSpan Used { get; set; } = begun;
}
