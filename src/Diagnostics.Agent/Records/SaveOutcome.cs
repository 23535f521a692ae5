using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.Records;

/// <summary>What came of saving a record.</summary>
/// <param name="Why">Null where it was saved; else a sentence.</param>
/// <param name="IsConflict">Somebody saved another version since the form was opened.</param>
/// <param name="IsWrong">The record itself is at fault: it will not be saved at another time either.</param>
internal readonly record struct SaveOutcome(Sentence? Why, bool IsConflict = false, bool IsWrong = false)
{
    public bool IsSaved => Why is null;
}
