using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.Records;

/// <summary>What came of saving a record.</summary>
/// <param name="Why">Null where it was saved; else a sentence.</param>
/// <param name="IsConflict">Somebody saved another version since the form was opened.</param>
internal readonly record struct SaveOutcome(Sentence? Why, bool IsConflict = false)
{
    public bool IsSaved => Why is null;
}
