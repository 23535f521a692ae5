using System.Collections.Immutable;
using System.Diagnostics.CodeAnalysis;
using System.Globalization;
using Diagnostics.Agent.History.Store;
using Diagnostics.Can;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Records;

/// <summary>
/// The as-built record that holds, and the versions of it that were saved on the page. A version is based on the record that the service was given then: as long
/// as it is given the same one, the latest version holds; when that was changed, whoever changed it meant it, so it holds, and the versions stay to be used again.
/// Each version is a file that is never rewritten; the oldest go. Any thread.
/// </summary>
internal sealed class RecordBook
{
    /// <summary>Within a log's directory.</summary>
    public const string Folder = "record";

    /// <summary>Of a version's file.</summary>
    public const string Suffix = ".record";

    private const string DamagedSuffix = ".damaged";

    private readonly Func<bool, IStoreFiles?>? _open;
    private readonly TimeProvider _clock;
    private readonly HeldRecord _given;
    private readonly Lock _saving = new();
    private readonly Action<HeldRecord> _onHeld;
    private readonly bool _isClosed;
    private ImmutableArray<RecordVersion> _versions = [];
    private ImmutableArray<string> _setAside = [];
    private volatile HeldRecord _held;
    private int _lastNumber;

    /// <param name="given">What the service was given; null = nothing.</param>
    /// <param name="text">That, as it stands in its file.</param>
    /// <param name="open">Opens the directory of the versions, and makes it where told to; null = there is none. Null = nothing can be saved.</param>
    /// <param name="clock">For labels.</param>
    /// <param name="onHeld">Called with each record that begins to hold after this.</param>
    /// <param name="isClosed">It is looked at only, and the given record is the one that held when it was closed, as in a bundle.</param>
    public RecordBook(AsBuiltRecord? given, byte[]? text, Func<bool, IStoreFiles?>? open, TimeProvider clock, Action<HeldRecord>? onHeld = null, bool isClosed = false)
    {
        _isClosed = isClosed;
        _given = new(0, given, text);
        _held = _given;
        _open = open;
        _clock = clock;
        _onHeld = onHeld ?? (_ => { });
        try
        {
            Load(open?.Invoke(false));
        }
        catch (Exception problem) when (IsDiskTrouble(problem))
        {
            // Told when somebody wants to save; until then what was given holds.
        }
    }

    public HeldRecord Held => _held;

    /// <summary>There is a place to save in.</summary>
    public bool CanSave => _open is not null && !_isClosed;

    /// <summary>Oldest first.</summary>
    public ImmutableArray<RecordVersion> Versions
    {
        get
        {
            lock (_saving)
            {
                return _versions;
            }
        }
    }

    /// <summary>Files of versions that could not be read, by the names that they have now.</summary>
    public IReadOnlyList<string> SetAside => _setAside;

    /// <summary>The latest version, where it doesn't hold because the service was given another record since; null otherwise.</summary>
    public RecordVersion? Overruled => _held.Number == 0 && Versions is [.., { } latest] ? latest : null;

    /// <summary>What the service was given says the protocol, which is settled when it starts.</summary>
    public string? GivenProtocol => _given.Record?.Protocol;

    /// <summary>A version by its number, 0 being what the service was given; false where it isn't there any more, or can't be read.</summary>
    public bool TryRead(int number, [NotNullWhen(true)] out AsBuiltRecord? record, [NotNullWhen(true)] out byte[]? text)
    {
        HeldRecord held = _held;
        if (number == held.Number || number == 0)
        {
            (record, text) = number == 0 ? (_given.Record, _given.Text) : (held.Record, held.Text);
            return record is not null && text is not null;
        }

        record = null;
        text = null;
        try
        {
            lock (_saving)
            {
                return _versions.Any(version => version.Number == number)
                    && _open?.Invoke(false) is { } files
                    && RecordVersionFormat.TryRead(files.Read(NameOf(number)), out _, out record, out text);
            }
        }
        catch (Exception problem) when (IsDiskTrouble(problem))
        {
            return false;
        }
    }

    /// <summary>Saves a version, which then holds.</summary>
    /// <param name="token">The <see cref="HeldRecord.Token"/> of what the person saw; another means that somebody saved meanwhile.</param>
    /// <param name="record">The whole record.</param>
    /// <param name="origin">What made it.</param>
    /// <param name="from">Which version it says again.</param>
    /// <param name="written">The record as somebody wrote it, kept to the byte: it may hold members that this version doesn't know. Null = nobody wrote it as a whole.</param>
    public SaveOutcome Save(string token, AsBuiltRecord record, RecordOrigin origin, int? from = null, byte[]? written = null)
    {
        byte[] text = written ?? AsBuiltWriter.ToUtf8(record);
        if (!AsBuiltReader.TryRead(text, out AsBuiltRecord? read, out AsBuiltError? error))
        {
            return new(Say($"The record can’t hold this: {error!.Path}: {error.Problem}; {error.Remedy}."), IsWrong: true);
        }

        lock (_saving)
        {
            if (!CanSave)
            {
                return new(Say($"No log is kept, so there is no place to save the record in. Start the tool with --log DIR."));
            }

            if (token != _held.Token)
            {
                return new(Say($"Somebody saved another version meanwhile."), IsConflict: true);
            }

            if (origin == RecordOrigin.Edited && text.AsSpan().SequenceEqual(AsBuiltWriter.ToUtf8(_held.Record ?? new())))
            {
                return default;
            }

            RecordVersion version = new(_lastNumber + 1, Instant.FromDateTime(_clock.GetUtcNow()).WholeSecond, origin, from, HeldRecord.DigestOf(_given.Text));
            try
            {
                IStoreFiles files = _open!(true)!;
                files.Replace(NameOf(version.Number), RecordVersionFormat.Write(version, text));
                _lastNumber = version.Number;
                _versions = _versions.Add(version);
                _held = new(version.Number, read, text);
                RemoveOldest(files);
            }
            catch (Exception problem) when (IsDiskTrouble(problem))
            {
                if (_held.Number != version.Number)
                {
                    return new(Say($"The record can’t be saved ({problem.Message.TrimEnd('.')})."));
                }

                // It is saved; an old one that can't be removed is removed with the next.
            }

            _onHeld(_held);
            return default;
        }
    }

    private void RemoveOldest(IStoreFiles files)
    {
        while (_versions.Length > Limits.RecordVersions)
        {
            files.Delete(NameOf(_versions[0].Number));
            _versions = _versions.RemoveAt(0);
        }
    }

    private void Load(IStoreFiles? files)
    {
        if (files is null)
        {
            return;
        }

        string? basis = HeldRecord.DigestOf(_given.Text);
        List<RecordVersion> versions = [];
        foreach (string name in files.List().Order(StringComparer.Ordinal))
        {
            if (NumberOf(name) is not int number)
            {
                continue;
            }

            _lastNumber = Math.Max(_lastNumber, number);
            if (!name.EndsWith(Suffix, StringComparison.Ordinal))
            {
                _setAside = _setAside.Add(name);
            }
            else if (TryRead(files, name, out RecordVersion? version, out AsBuiltRecord? record, out byte[] text) && version!.Number == number)
            {
                versions.Add(version);
                bool holds = _isClosed ? _given.Text is { } held && text.AsSpan().SequenceEqual(held) : version.Basis == basis;
                _held = holds ? new(number, record, text) : _isClosed ? _held : _given;
            }
            else
            {
                _setAside = _setAside.Add(PutAside(files, name));
            }
        }

        _versions = [.. versions];
    }

    private static bool TryRead(IStoreFiles files, string name, out RecordVersion? version, out AsBuiltRecord? record, out byte[] text)
    {
        try
        {
            return RecordVersionFormat.TryRead(files.Read(name), out version, out record, out text);
        }
        catch (Exception problem) when (IsDiskTrouble(problem))
        {
            version = null;
            record = null;
            text = [];
            return false;
        }
    }

    /// <summary>Not deleted: a person may still read the names in it.</summary>
    private static string PutAside(IStoreFiles files, string name)
    {
        if (files.IsReadOnly)
        {
            return name;
        }

        try
        {
            files.Rename(name, name + DamagedSuffix);
            return name + DamagedSuffix;
        }
        catch (Exception problem) when (IsDiskTrouble(problem))
        {
            return name;
        }
    }

    /// <summary>Of nine digits at most, so that the next number is one, too.</summary>
    private static int? NumberOf(string name)
    {
        string digits = name.EndsWith(Suffix, StringComparison.Ordinal) ? name[..^Suffix.Length]
            : name.EndsWith(Suffix + DamagedSuffix, StringComparison.Ordinal) ? name[..^(Suffix.Length + DamagedSuffix.Length)]
            : string.Empty;
        return digits.Length is >= 6 and <= 9 && int.TryParse(digits, NumberStyles.None, CultureInfo.InvariantCulture, out int number) && number > 0 ? number : null;
    }

    private static string NameOf(int number) => number.ToString("D6", CultureInfo.InvariantCulture) + Suffix;

    private static bool IsDiskTrouble(Exception problem) => problem is IOException or UnauthorizedAccessException;
}
