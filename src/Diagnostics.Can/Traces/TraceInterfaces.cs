namespace Diagnostics.Can.Traces;

/// <summary>
/// The interfaces of one run by name: several sections of a file, and several files that are one time line, share it, so that one
/// name has one index throughout.
/// </summary>
public sealed class TraceInterfaces
{
    private readonly List<string> _names = [];

    public int Count => _names.Count;

    public string Name(byte index) => _names[index];

    /// <summary>False when <see cref="TraceLimits.Interfaces"/> is reached and the name is new.</summary>
    public bool TryIndexOf(string name, out byte index, out bool isNew)
    {
        int found = _names.IndexOf(name);
        isNew = found < 0;
        if (isNew)
        {
            if (_names.Count >= TraceLimits.Interfaces)
            {
                index = 0;
                return false;
            }

            found = _names.Count;
            _names.Add(name);
        }

        index = (byte)found;
        return true;
    }
}
