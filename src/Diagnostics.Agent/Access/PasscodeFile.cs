using System.Text;
using System.Text.Json;
using Diagnostics.Agent.Commands;

namespace Diagnostics.Agent.Access;

/// <summary>
/// The passcode's hash on the disk. It lies beside the settings and not beside the log: the service only reads it, can't change it, and no bundle takes it along.
/// Whatever is not exactly as it was written lets nobody in.
/// </summary>
internal sealed class PasscodeFile(string path)
{
    private const int CurrentFormat = 1;

    /// <summary>Root's, and read by the service's group, which the directory hands on (scripts/install sets its group and the bit for that).</summary>
    private const UnixFileMode Mode = UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.GroupRead;

    private const UnixFileMode Strangers = UnixFileMode.OtherRead | UnixFileMode.OtherWrite | UnixFileMode.GroupWrite;

    private readonly Lock _lock = new();
    private (DateTime Written, long Length)? _stamp;
    private PasscodeState? _known;

    public string Path => path;

    /// <summary>As it is at this moment; what was read stays until the file changes.</summary>
    public PasscodeState Read()
    {
        lock (_lock)
        {
            FileInfo file = new(path);
            (DateTime, long)? stamp = file.Exists ? (file.LastWriteTimeUtc, file.Length) : null;
            if (_known is null || stamp != _stamp || _known.Trouble is not null)
            {
                PasscodeState fresh = ReadAnew();
                _known = _known is not null && Same(_known, fresh) ? _known : fresh;
                _stamp = stamp;
            }

            return _known;
        }
    }

    /// <summary>Writes it so that there is the old one or the new one, whatever happens.</summary>
    /// <exception cref="SettingException">It can't be written.</exception>
    public void Write(PasscodeHash hash)
    {
        string beside = $"{path}.{Environment.ProcessId}.new";
        try
        {
            if (System.IO.Path.GetDirectoryName(path) is { Length: > 0 } directory)
            {
                Directory.CreateDirectory(directory);
            }

            using (FileStream file = new(beside, new FileStreamOptions { Mode = FileMode.Create, Access = FileAccess.Write, UnixCreateMode = UnixFileMode.UserRead | UnixFileMode.UserWrite }))
            {
                file.Write(ToUtf8(hash));
                file.Flush(flushToDisk: true);
            }

            File.SetUnixFileMode(beside, Mode);
            File.Move(beside, path, overwrite: true);
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException)
        {
            Forget(beside);
            throw new SettingException("passcode", $"'{path}' can't be written ({problem.Message.TrimEnd('.')})", "run it as root, with sudo");
        }
    }

    /// <returns>False where there was none.</returns>
    /// <exception cref="SettingException">It can't be removed.</exception>
    public bool Remove()
    {
        try
        {
            bool wasThere = File.Exists(path);
            File.Delete(path);
            return wasThere;
        }
        catch (DirectoryNotFoundException)
        {
            return false;
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException)
        {
            throw new SettingException("passcode", $"'{path}' can't be removed ({problem.Message.TrimEnd('.')})", "run it as root, with sudo");
        }
    }

    private static void Forget(string file)
    {
        try
        {
            File.Delete(file);
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException)
        {
            // The message that follows is about the same disk.
        }
    }

    private PasscodeState ReadAnew()
    {
        byte[] bytes;
        try
        {
            if (!File.Exists(path))
            {
                return PasscodeState.None;
            }

            if ((File.GetUnixFileMode(path) & Strangers) != 0)
            {
                return PasscodeState.Bad(PasscodeTrouble.OpenToOthers);
            }

            bytes = BoundedFile.Read(path, Limits.PasscodeFileBytes);
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException or NotAFileException)
        {
            return PasscodeState.Bad(PasscodeTrouble.Unreadable);
        }

        return FromUtf8(bytes) is { } hash ? PasscodeState.Of(hash) : PasscodeState.Bad(PasscodeTrouble.Damaged);
    }

    private static bool Same(PasscodeState one, PasscodeState other) =>
        one.Trouble == other.Trouble && (one.Hash, other.Hash) switch
        {
            (null, null) => true,
            ({ } before, { } now) => before.Hash.AsSpan().SequenceEqual(now.Hash) && before.Salt.AsSpan().SequenceEqual(now.Salt),
            _ => false,
        };

    private static byte[] ToUtf8(PasscodeHash hash)
    {
        using MemoryStream bytes = new();
        using (Utf8JsonWriter json = new(bytes, new() { Indented = true }))
        {
            json.WriteStartObject();
            json.WriteNumber("format", CurrentFormat);
            json.WriteString("algorithm", "argon2id");
            json.WriteNumber("memoryKibibytes", hash.MemoryKibibytes);
            json.WriteNumber("passes", hash.Passes);
            json.WriteBase64String("salt", hash.Salt);
            json.WriteBase64String("hash", hash.Hash);
            json.WriteEndObject();
        }

        bytes.Write("\n"u8);
        return bytes.ToArray();
    }

    /// <summary>Null where anything about it isn't as this version writes it.</summary>
    private static PasscodeHash? FromUtf8(byte[] bytes)
    {
        if (bytes.Length > Limits.PasscodeFileBytes)
        {
            return null;
        }

        try
        {
            using JsonDocument document = JsonDocument.Parse(bytes);
            JsonElement root = document.RootElement;
            PasscodeHash hash = new(root.GetProperty("memoryKibibytes").GetInt32(), root.GetProperty("passes").GetInt32(), root.GetProperty("salt").GetBytesFromBase64(), root.GetProperty("hash").GetBytesFromBase64());
            return root.GetProperty("format").GetInt32() == CurrentFormat
                && root.GetProperty("algorithm").GetString() == "argon2id"
                && hash.MemoryKibibytes is >= 8 and <= PasscodeHash.MostMemoryKibibytes
                && hash.Passes is >= 1 and <= PasscodeHash.MostPasses
                && hash.Salt.Length == PasscodeHash.SaltBytes
                && hash.Hash.Length == PasscodeHash.HashBytes ? hash : null;
        }
        catch (Exception problem) when (problem is JsonException or InvalidOperationException or KeyNotFoundException or FormatException or DecoderFallbackException)
        {
            return null;
        }
    }
}
