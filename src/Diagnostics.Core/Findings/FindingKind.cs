namespace Diagnostics.Core.Findings;

/// <summary>One entry of the catalogue. <paramref name="Name"/> is stored in logs and never renamed.</summary>
public sealed record FindingKind(string Name, Severity Usual, string RaisedWhen, string Subject)
{
    public override string ToString() => Name;
}
