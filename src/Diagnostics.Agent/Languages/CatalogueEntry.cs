namespace Diagnostics.Agent.Languages;

/// <summary>One line of a catalogue.</summary>
/// <param name="Template">In English.</param>
/// <param name="Translation">Empty where there is none yet.</param>
/// <param name="IsObsolete">No longer said by this version; older logs hold it.</param>
internal sealed record CatalogueEntry(string Template, string Translation, bool IsObsolete);
