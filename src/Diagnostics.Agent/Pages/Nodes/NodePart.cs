using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;

namespace Diagnostics.Agent.Pages.Nodes;

/// <summary>Serves the pages of nodes, inputs and outputs.</summary>
internal sealed class NodePart(PageSource source) : IPagePart
{
    public void Map(IEndpointRouteBuilder routes)
    {
        routes.MapRead(NodeLinks.Folder + "{bus}/{address}", AnswerAsync);
        routes.MapRead(NodeLinks.Folder + "{bus}/{address}/{kind}/{number}", AnswerAsync);
    }

    private Task AnswerAsync(HttpContext context)
    {
        PageModel model = source.Model(context);
        if (NodePages.At(context.Request.Path.ToUriComponent(), model) is not { } page)
        {
            return PageAnswers.NothingHere(context);
        }

        return PageAnswers.HtmlAsync(context, Shell.Served(page, model));
    }
}
