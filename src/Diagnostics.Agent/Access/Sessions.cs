using System.Buffers.Text;
using System.Security.Cryptography;

namespace Diagnostics.Agent.Access;

/// <summary>
/// Who signed in, in memory only: a restart ends all of them. The cookie's 256 bits by chance are not kept, only their hash, by which a session is found; so
/// neither the time that it takes nor a copy of the memory tells a cookie.
/// </summary>
internal sealed class Sessions(TimeProvider clock)
{
    private const int TokenBytes = 32;

    private readonly Lock _lock = new();
    private readonly Dictionary<string, Session> _sessions = new(StringComparer.Ordinal);
    private readonly long _start = clock.GetTimestamp();

    public int Count
    {
        get
        {
            lock (_lock)
            {
                return _sessions.Count;
            }
        }
    }

    /// <summary>Begins one and gives its token.</summary>
    public string Begin()
    {
        EndOld();
        byte[] token = RandomNumberGenerator.GetBytes(TokenBytes);
        Session? oldest = null;
        lock (_lock)
        {
            if (_sessions.Count >= Limits.Sessions)
            {
                oldest = _sessions.Values.MinBy(session => session.Used)!;
                _sessions.Remove(oldest.Key);
            }

            Session begun = new(Key(token), Now);
            _sessions.Add(begun.Key, begun);
        }

        oldest?.End();
        return Base64Url.EncodeToString(token);
    }

    /// <summary>The session of a token, which counts as used now; null where there is none.</summary>
    public Session? Find(string? token)
    {
        // 32 bytes are 43 characters; the decoder throws on what is no base64url.
        if (token is not { Length: 43 } || !Base64Url.IsValid(token))
        {
            return null;
        }

        string key = Key(Base64Url.DecodeFromChars(token));
        lock (_lock)
        {
            if (!_sessions.TryGetValue(key, out Session? session) || IsOver(session))
            {
                return null;
            }

            session.Used = Now;
            return session;
        }
    }

    public void End(Session session) => EndWhere(session.Equals);

    public void EndAll() => EndWhere(_ => true);

    /// <summary>Ends those whose time is over, and with them the answers that still go on for them.</summary>
    public void EndOld() => EndWhere(IsOver);

    private TimeSpan Now => clock.GetElapsedTime(_start);

    private void EndWhere(Func<Session, bool> isOver)
    {
        Session[] over;
        lock (_lock)
        {
            over = [.. _sessions.Values.Where(isOver)];
            foreach (Session session in over)
            {
                _sessions.Remove(session.Key);
            }
        }

        // Outside: whoever waits for it runs at once.
        foreach (Session session in over)
        {
            session.End();
        }
    }

    private static string Key(ReadOnlySpan<byte> token) => Convert.ToHexString(SHA256.HashData(token));

    private bool IsOver(Session session) => Now - session.Used > Limits.SessionIdle || Now - session.Begun > Limits.SessionLength;
}
