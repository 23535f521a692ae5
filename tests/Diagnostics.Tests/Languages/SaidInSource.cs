using System.Text;
using Microsoft.CodeAnalysis;
using Microsoft.CodeAnalysis.CSharp;
using Microsoft.CodeAnalysis.CSharp.Syntax;

namespace Diagnostics.Tests.Languages;

/// <summary>The templates of all sentences in the source, found by its syntax: what stands in <c>Say(…)</c> as an interpolated text or a plain one.</summary>
internal static class SaidInSource
{
    public static IReadOnlyDictionary<string, string> PlacesByTemplate { get; } = Find(Path.Combine(TidyTests.Root, "src"));

    public static IEnumerable<string> Templates(string source) => Said(CSharpSyntaxTree.ParseText(source).GetRoot());

    /// <summary>The literals of markup: what stands in <c>page.Add(…)</c> and <c>page.Literal(…)</c>, with a space for each value in it.</summary>
    public static IEnumerable<(string File, string Text)> MarkupOf(string folder) =>
        from file in Directory.EnumerateFiles(folder, "*.cs", SearchOption.AllDirectories)
        from call in CSharpSyntaxTree.ParseText(File.ReadAllText(file)).GetRoot().DescendantNodes().OfType<InvocationExpressionSyntax>()
        where call.Expression is MemberAccessExpressionSyntax { Expression: IdentifierNameSyntax { Identifier.Text: "page" }, Name.Identifier.Text: "Add" or "Literal" }
        from text in call.ArgumentList.Arguments.SelectMany(argument => Markup(argument.Expression))
        select (Path.GetFileName(file), text);

    private static IEnumerable<string> Markup(ExpressionSyntax expression) => expression switch
    {
        LiteralExpressionSyntax { RawKind: (int)SyntaxKind.StringLiteralExpression } literal => [literal.Token.ValueText],
        InterpolatedStringExpressionSyntax text => [string.Concat(text.Contents.Select(content => content is InterpolatedStringTextSyntax literal ? literal.TextToken.ValueText : " "))],
        ConditionalExpressionSyntax either => [.. Markup(either.WhenTrue), .. Markup(either.WhenFalse)],
        _ => [],
    };

    private static Dictionary<string, string> Find(string folder)
    {
        Dictionary<string, string> found = new(StringComparer.Ordinal);
        foreach (string file in Directory.EnumerateFiles(folder, "*.cs", SearchOption.AllDirectories).Where(file => !file.Contains("/obj/", StringComparison.Ordinal) && !file.Contains("/bin/", StringComparison.Ordinal)))
        {
            foreach (string template in Templates(File.ReadAllText(file)))
            {
                found.TryAdd(template, Path.GetRelativePath(folder, file));
            }
        }

        return found;
    }

    private static IEnumerable<string> Said(SyntaxNode root) => [.. SaidAsSentences(root), .. ReasonsNotSeen(root), .. RemarksOfTraces(root)];

    /// <summary>Why something was not seen is told from below, where sentences aren't known; it is said as a part of a sentence, without a point of its own.</summary>
    private static IEnumerable<string> ReasonsNotSeen(SyntaxNode root) => root.DescendantNodes().OfType<InvocationExpressionSyntax>()
        .Where(call => call.Expression is IdentifierNameSyntax { Identifier.Text: "TellStep" } or MemberAccessExpressionSyntax { Name.Identifier.Text: "Because" })
        .SelectMany(call => call.ArgumentList.Arguments.Last().DescendantNodes().OfType<InterpolatedStringExpressionSyntax>())
        .Select(text => Template(text)!.TrimEnd('.'));

    /// <summary>What a reader of traces remarks is told from below, too.</summary>
    private static IEnumerable<string> RemarksOfTraces(SyntaxNode root) => root.DescendantNodes().OfType<InvocationExpressionSyntax>()
        .Where(call => call.Expression is MemberAccessExpressionSyntax { Name.Identifier.Text: "Remark" })
        .SelectMany(call => call.ArgumentList.Arguments.Last().DescendantNodes().OfType<InterpolatedStringExpressionSyntax>())
        .Select(text => Template(text)!);

    private static IEnumerable<string> SaidAsSentences(SyntaxNode root) => root.DescendantNodes().OfType<InvocationExpressionSyntax>()
        .Where(call => call.Expression is IdentifierNameSyntax { Identifier.Text: "Say" } or MemberAccessExpressionSyntax { Name.Identifier.Text: "Say" })
        .SelectMany(call => call.ArgumentList.Arguments)
        .Select(argument => Template(argument.Expression))
        .OfType<string>();

    private static string? Template(ExpressionSyntax expression)
    {
        StringBuilder template = new();
        int places = 0;
        return TryAdd(expression, template, ref places) ? template.ToString() : null;
    }

    private static bool TryAdd(ExpressionSyntax expression, StringBuilder template, ref int places)
    {
        switch (expression)
        {
            case ParenthesizedExpressionSyntax inner:
                return TryAdd(inner.Expression, template, ref places);

            // A long text is cut over several lines.
            case BinaryExpressionSyntax { RawKind: (int)SyntaxKind.AddExpression } sum:
                return TryAdd(sum.Left, template, ref places) && TryAdd(sum.Right, template, ref places);
            case LiteralExpressionSyntax { RawKind: (int)SyntaxKind.StringLiteralExpression } literal:
                template.Append(literal.Token.ValueText.Replace("{", "{{", StringComparison.Ordinal).Replace("}", "}}", StringComparison.Ordinal));
                return true;
            case InterpolatedStringExpressionSyntax text:
                foreach (InterpolatedStringContentSyntax content in text.Contents)
                {
                    if (content is InterpolatedStringTextSyntax literal)
                    {
                        // Braces are doubled there as they are in the template.
                        template.Append(literal.TextToken.ValueText);
                    }
                    else
                    {
                        template.Append('{').Append(places++).Append('}');
                    }
                }

                return true;
            default:
                return false;
        }
    }
}
