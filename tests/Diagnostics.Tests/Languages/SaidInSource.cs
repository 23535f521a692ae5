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

    private static IEnumerable<string> Said(SyntaxNode root) => root.DescendantNodes().OfType<InvocationExpressionSyntax>()
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
