using Microsoft.AspNetCore.Routing;

namespace Diagnostics.Agent.Pages;

/// <summary>A part of what the page serves. It maps its own addresses; what all share (headers, who may ask, words for what isn't there) is done around it.</summary>
internal interface IPagePart
{
    void Map(IEndpointRouteBuilder routes);
}
