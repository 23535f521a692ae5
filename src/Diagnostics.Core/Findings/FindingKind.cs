namespace Diagnostics.Core.Findings;

/// <summary>One entry of the catalogue. <paramref name="Name"/> is stored in logs and never renamed.</summary>
public sealed record FindingKind(string Name, Severity Usual, string RaisedWhen, string Subject)
{
    /// <summary>Names a finding of this kind about a node, for the life of the log.</summary>
    public string KeyOfNode(string bus, int node) => Finding.KeyOf(this, bus, Findings.Subject.OfNode(node));

    public override string ToString() => Name;
}
