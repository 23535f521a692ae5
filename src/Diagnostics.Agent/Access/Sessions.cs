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
        byte[] token = RandomNumberGenerator.GetBytes(TokenBytes);
        lock (_lock)
        {
            TimeSpan now = clock.GetElapsedTime(_start);
            foreach (Session over in _sessions.Values.Where(session => IsOver(session, now)).ToArray())
            {
                _sessions.Remove(over.Key);
            }

            if (_sessions.Count >= Limits.Sessions)
            {
                _sessions.Remove(_sessions.Values.MinBy(session => session.Used)!.Key);
            }

            Session begun = new(Key(token), now);
            _sessions.Add(begun.Key, begun);
        }

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
            if (!_sessions.TryGetValue(key, out Session? session))
            {
                return null;
            }

            TimeSpan now = clock.GetElapsedTime(_start);
            if (IsOver(session, now))
            {
                _sessions.Remove(key);
                return null;
            }

            session.Used = now;
            return session;
        }
    }

    public void End(Session session)
    {
        lock (_lock)
        {
            _sessions.Remove(session.Key);
        }
    }

    public void EndAll()
    {
        lock (_lock)
        {
            _sessions.Clear();
        }
    }

    private static string Key(ReadOnlySpan<byte> token) => Convert.ToHexString(SHA256.HashData(token));

    private static bool IsOver(Session session, TimeSpan now) => now - session.Used > Limits.SessionIdle || now - session.Begun > Limits.SessionLength;
}
