using System.Text.Json;
using Diagnostics.Agent.Boards;
using Microsoft.AspNetCore.Routing;

namespace Diagnostics.Agent.Pages;

/// <summary>What is fitted to the board, live values and the check after clipping on, as data.</summary>
internal sealed class BoardDocumentPart(AgentState state, BoardView board) : IPagePart
{
    public void Map(IEndpointRouteBuilder routes) => routes.MapRead(
        BoardDocument.Path,
        context => PageAnswers.JsonAsync(context, JsonSerializer.SerializeToUtf8Bytes(BoardDocument.Of(board.Settings, state.Sensors, state.Troubles, board.Watch.Now()), BoardJson.Default.BoardDocument)));
}
