using Diagnostics.Agent.Boards.Signals;

namespace Diagnostics.Agent.Boards;

/// <summary>What the page shows of what is fitted to the board.</summary>
internal sealed record BoardView(BoardSettings Settings, ClipWatch Watch);
