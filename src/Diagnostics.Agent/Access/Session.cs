namespace Diagnostics.Agent.Access;

/// <summary>Somebody who signed in from another device.</summary>
/// <param name="key">What it is found by.</param>
/// <param name="begun">On the clock of <see cref="Sessions"/>.</param>
internal sealed class Session(string key, TimeSpan begun)
{
    public string Key => key;

    public TimeSpan Begun { get; } = begun;

    public TimeSpan Used { get; set; } = begun;
}
