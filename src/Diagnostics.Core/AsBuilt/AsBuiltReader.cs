namespace Diagnostics.Core.AsBuilt;

/// <summary>
/// Reads the as-built record from JSON (UTF-8, schema 1) strictly: the first thing that is wrong is told with its place and its remedy, and nothing
/// is guessed. Every member but <c>schema</c> may be missing or null. Members that aren't known are ignored and told as remarks, so that a newer
/// record can be read; so are references to nodes that the record doesn't list. The name of a protocol isn't judged here.
/// </summary>
public static class AsBuiltReader
{
    /// <summary>False, with <paramref name="error"/>, when the record can't be used; never throws for any content.</summary>
    public static bool TryRead(ReadOnlySpan<byte> utf8, out AsBuiltRecord? record, out AsBuiltError? error) =>
        TryRead(utf8, out record, out error, out _);

    /// <summary>As the shorter form, and tells remarks (at most 100) on a record that is usable.</summary>
    public static bool TryRead(
        ReadOnlySpan<byte> utf8, out AsBuiltRecord? record, out AsBuiltError? error, out IReadOnlyList<AsBuiltRemark> remarks)
    {
        record = null;
        remarks = [];
        error = AsBuiltText.CheckEncoding(utf8);
        if (error is not null)
        {
            return false;
        }

        ReadOnlySpan<byte> text = utf8.StartsWith("\uFEFF"u8) ? utf8[3..] : utf8;
        if (!AsBuiltText.TryCheckSyntax(text, out error))
        {
            return false;
        }

        AsBuiltWalk walk = new(text);
        record = walk.Record();
        error = walk.Error;
        if (error is not null)
        {
            record = null;
            return false;
        }

        remarks = walk.Remarks;
        return true;
    }
}
