using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Boards;

/// <summary>
/// Compares readings of the board: what begins and what ends. An alarm that comes and goes within seconds, as when relays pull the supply down, would fill a log: it is
/// over only when it has stayed away for <see cref="Calm"/> readings. Pure; one owner.
/// </summary>
internal sealed class BoardWatch
{
    /// <summary>Below this the log can't even turn its oldest files over: it needs the new one before the old one goes, and the system writes as well.</summary>
    public const long ShortBytes = 64L << 20;

    /// <summary>Above this it is over.</summary>
    public const long EnoughBytes = 128L << 20;

    /// <summary>Readings without it before it is over: a minute.</summary>
    public const int Calm = 30;

    private readonly Dictionary<BoardEventKind, int> _calm = [];
    private long? _throttles;
    private bool? _wasLow;

    /// <summary>What is wrong now, as whole sentences.</summary>
    public IReadOnlyDictionary<BoardEventKind, Sentence> Open => _open;

    private readonly Dictionary<BoardEventKind, Sentence> _open = [];

    /// <returns>What began or ended with this reading: the kind, whether it ended, and a sentence.</returns>
    public IReadOnlyList<(BoardEventKind Kind, bool IsOver, Sentence Text)> OnReading(BoardReading reading)
    {
        List<(BoardEventKind, bool, Sentence)> news = [];
        Judge(
            BoardEventKind.SupplyLow, reading.SupplyIsLow == true || (reading.SupplyWasLow == true && _wasLow == false), Calm,
            Say($"The supply of this board is too low, its kernel says: it may stop at any moment. Use a stronger supply or a shorter cable. That is this board’s own supply, and says nothing about that of the bus."),
            Say($"The supply of this board is high enough again."));
        Judge(
            BoardEventKind.Throttled, reading.IsThrottled == true || reading.ThrottleCount > _throttles, Calm,
            reading.Celsius is double hot
                ? Say($"The processor of this board is being slowed, at {hot:0} °C: it is too hot, or its supply too weak. Give it air.")
                : Say($"The processor of this board is being slowed: it is too hot, or its supply too weak. Give it air."),
            Say($"The processor of this board runs at its own speed again."));
        Judge(
            BoardEventKind.DiskShort, reading.FreeBytes is long free && free < (_open.ContainsKey(BoardEventKind.DiskShort) ? EnoughBytes : ShortBytes), 1,
            Say($"The disk of the log has {(reading.FreeBytes ?? 0) >> 20} MB left. Make room, or lower logMegabytes in the settings; when it is full, the log waits in memory."),
            Say($"The disk of the log has room again."));
        Judge(
            BoardEventKind.DiskReadOnly, reading.DiskIsReadOnly == true, 1,
            Say($"The disk of the log can only be read: the kernel makes it so after an error on it, and nothing more is kept. Save what is there with 'diagnostics bundle --to' onto another disk, put in another card, and start the board again."),
            Say($"The disk of the log can be written again."));
        _throttles = reading.ThrottleCount;
        _wasLow = reading.SupplyWasLow;
        return news;

        void Judge(BoardEventKind kind, bool isWrong, int calm, Sentence wrong, Sentence over)
        {
            if (isWrong)
            {
                if (!_open.ContainsKey(kind))
                {
                    news.Add((kind, false, wrong));
                    _open[kind] = wrong;
                }

                _calm[kind] = 0;
            }
            else if (_open.ContainsKey(kind) && (_calm[kind] = _calm.GetValueOrDefault(kind) + 1) >= calm)
            {
                news.Add((kind, true, over));
                _open.Remove(kind);
            }
        }
    }
}
