using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.Pages;

/// <summary>A page in pieces, in order. Each is replaced by itself when it changes, so that what a reader opened, chose or is writing elsewhere stays.</summary>
/// <param name="Title">Of the window.</param>
/// <param name="Path">Its own address.</param>
/// <param name="Pieces">From top to bottom.</param>
internal sealed record LivePage(Sentence Title, string Path, IReadOnlyList<PagePiece> Pieces);

/// <summary>Makes the page at an address; null where the address is another's, or what it was about isn't there.</summary>
internal delegate LivePage? PageAt(string path, PageModel model);
