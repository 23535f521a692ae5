using Diagnostics.Agent.History.Store;

namespace Diagnostics.Tests.History.Store;

/// <summary>
/// A directory that remembers every operation, and can be put into each state in which a power cut may leave it: what was flushed is there; of what was
/// written since, any part may be, down to sectors of 512 bytes; a file that was being made may be there in part. Model after Pillai et al., OSDI 2014 (ALICE).
/// </summary>
internal sealed class RecordedDisk : IStoreFiles
{
    private const int Sector = 512;
    private readonly Dictionary<string, byte[]> _files = [];

    /// <summary>What was done, oldest first.</summary>
    public List<Operation> Operations { get; } = [];

    /// <summary>Makes the operation of that number fail; null = none does. Numbers count from 0 over all operations, failed ones included.</summary>
    public Func<Operation, bool> Fails { get; set; } = _ => false;

    internal enum Step
    {
        Create,
        Write,
        Flush,
        Delete,
        Rename,
        Replace,
    }

    internal sealed record Operation(Step Step, string Name, int Position, byte[] Bytes, string? Other = null);

    public IReadOnlyList<string> List() => [.. _files.Keys];

    /// <summary>What reading a file fails with; null = it doesn't.</summary>
    public Func<string, IOException?> FailsToRead { get; set; } = _ => null;

    /// <summary>Sees everything that is given out.</summary>
    public Action<byte[]> OnRead { get; set; } = _ => { };

    public byte[] Read(string name)
    {
        byte[] bytes = FailsToRead(name) is { } failure ? throw failure : (byte[])_files[name].Clone();
        OnRead(bytes);
        return bytes;
    }

    public void Put(string name, byte[] bytes) => _files[name] = bytes;

    public byte[] Live(string name) => _files[name];

    public IStoreFile Create(string name, ReadOnlySpan<byte> content)
    {
        Do(new(Step.Create, name, 0, content.ToArray()));
        return new Handle(this, name);
    }

    public IStoreFile Open(string name) => _files.ContainsKey(name) ? new Handle(this, name) : throw new FileNotFoundException(name);

    public void Rename(string name, string other) => Do(new(Step.Rename, name, 0, [], other));

    public void Replace(string name, ReadOnlySpan<byte> bytes) => Do(new(Step.Replace, name, 0, bytes.ToArray()));

    public void Delete(string name) => Do(new(Step.Delete, name, 0, []));

    /// <summary>
    /// The directory after a power cut behind the first <paramref name="count"/> operations. <paramref name="survives"/> decides for each sector that was written
    /// and not flushed whether it reached the disk.
    /// </summary>
    public RecordedDisk After(int count, Func<int, bool> survives)
    {
        RecordedDisk disk = new();
        List<Operation> unflushed = [];
        foreach (Operation operation in Operations.Take(count))
        {
            if (operation.Step == Step.Write)
            {
                unflushed.Add(operation);
                continue;
            }

            // A flush concerns its file; a file that is made anew, renamed or gone takes what was not flushed with it.
            if (operation.Step == Step.Flush)
            {
                unflushed.Where(write => write.Name == operation.Name).ToList().ForEach(write => disk.Apply(write));
            }
            else
            {
                disk.Apply(operation);
            }

            unflushed.RemoveAll(write => write.Name == operation.Name);
        }

        int sector = 0;
        if (count < Operations.Count && Operations[count] is { Step: Step.Create } making && survives(sector++))
        {
            // The cut came while it was made: its name is there, and some of its bytes.
            byte[] part = making.Bytes[..(making.Bytes.Length / 3)];
            if (!survives(sector++))
            {
                part.AsSpan().Clear();
            }

            disk.Apply(making with { Bytes = part });
        }

        foreach (Operation write in unflushed)
        {
            // Sectors lie on the disk's own grid.
            for (int at = 0; at < write.Bytes.Length;)
            {
                int length = Math.Min(write.Bytes.Length - at, Sector - ((write.Position + at) % Sector));
                if (survives(sector++))
                {
                    disk.Apply(write with { Position = write.Position + at, Bytes = write.Bytes[at..(at + length)] });
                }

                at += length;
            }
        }

        return disk;
    }

    private void Do(Operation operation)
    {
        if (Fails(operation))
        {
            throw new IOException($"{operation.Step} of {operation.Name} fails because the test wants it.");
        }

        Operations.Add(operation);
        Apply(operation);
    }

    private void Apply(Operation operation)
    {
        switch (operation.Step)
        {
            case Step.Create:
            case Step.Replace:
                _files[operation.Name] = (byte[])operation.Bytes.Clone();
                break;
            case Step.Write:
                operation.Bytes.CopyTo(_files[operation.Name], operation.Position);
                break;
            case Step.Delete:
                _files.Remove(operation.Name);
                break;
            case Step.Rename:
                _files[operation.Other!] = _files[operation.Name];
                _files.Remove(operation.Name);
                break;
        }
    }

    private sealed class Handle(RecordedDisk disk, string name) : IStoreFile
    {
        public void Write(int position, ReadOnlySpan<byte> bytes) => disk.Do(new(Step.Write, name, position, bytes.ToArray()));

        public void Flush() => disk.Do(new(Step.Flush, name, 0, []));

        public void Dispose()
        {
        }
    }
}
