using System.Globalization;
using Microsoft.Extensions.Hosting.Systemd;

namespace Diagnostics.Agent;

/// <summary>
/// Tells systemd that the analysis is alive. Called from the analysis loop after a tick that moved time on, and from nowhere else: where frames and ticks stop flowing, it isn't fed,
/// and systemd restarts the service. sd_watchdog_enabled(3) advises half of WATCHDOG_USEC; a third leaves room for a late tick.
/// </summary>
internal sealed class Watchdog
{
    private readonly ISystemdNotifier? _notifier;
    private readonly TimeProvider _clock;
    private readonly TimeSpan? _interval;
    private long? _fed;

    /// <param name="notifier">Null where systemd isn't there.</param>
    /// <param name="clock">Monotonic time.</param>
    /// <param name="microseconds">Value of WATCHDOG_USEC, null where no watchdog is set.</param>
    public Watchdog(ISystemdNotifier? notifier, TimeProvider clock, string? microseconds)
    {
        _notifier = notifier;
        _clock = clock;
        _interval = long.TryParse(microseconds, NumberStyles.None, CultureInfo.InvariantCulture, out long span) && span > 0
            ? TimeSpan.FromMicroseconds(span / 3.0)
            : null;
    }

    /// <summary>A round of the analysis is through.</summary>
    public void OnTick()
    {
        if (_notifier is null || _interval is not { } interval || (_fed is { } fed && _clock.GetElapsedTime(fed) < interval))
        {
            return;
        }

        _fed = _clock.GetTimestamp();
        _notifier.Notify(new ServiceState("WATCHDOG=1"));
    }
}
