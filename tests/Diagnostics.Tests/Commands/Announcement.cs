using System.Text;

namespace Diagnostics.Tests.Commands;

/// <summary>Standard output that tells when the page is served.</summary>
internal sealed class Announcement : MemoryStream
{
    private const string Begin = "report page: ";

    private readonly TaskCompletionSource<string> _address = new(TaskCreationOptions.RunContinuationsAsynchronously);

    public Task<string> Address => _address.Task;

    public string Text => Encoding.UTF8.GetString(ToArray());

    public override void Flush()
    {
        string text = Text;
        int at = text.IndexOf(Begin, StringComparison.Ordinal);
        if (at >= 0)
        {
            _address.TrySetResult(text[(at + Begin.Length)..text.IndexOf('\n', at)]);
        }
    }
}
