using Diagnostics.Can;

namespace Diagnostics.Core.Counting;

/// <summary>The identifiers heard on one interface: a plain array for 11 bits, a dictionary for 29.</summary>
internal sealed class IdentifierTable
{
    private readonly IdentifierState?[] _base = new IdentifierState?[CanId.MaxBase + 1];
    private readonly Dictionary<uint, IdentifierState> _extended = [];
    private readonly List<IdentifierState> _all = [];

    public IReadOnlyList<IdentifierState> All => _all;

    /// <summary>Frames of identifiers beyond <see cref="Limits.Identifiers"/>, which aren't kept apart.</summary>
    public long Untracked { get; private set; }

    public IdentifierState? Find(CanId id) =>
        id.IsExtended ? _extended.GetValueOrDefault(id.Value) : _base[id.Value];

    /// <summary>Null when the table is full.</summary>
    public IdentifierState? GetOrAdd(CanId id)
    {
        IdentifierState? state = Find(id);
        if (state is not null)
        {
            return state;
        }

        if (_all.Count >= Limits.Identifiers)
        {
            Untracked++;
            return null;
        }

        state = new(id);
        _all.Add(state);
        if (id.IsExtended)
        {
            _extended.Add(id.Value, state);
        }
        else
        {
            _base[id.Value] = state;
        }

        return state;
    }
}
