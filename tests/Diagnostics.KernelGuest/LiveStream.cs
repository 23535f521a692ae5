namespace Diagnostics.KernelGuest;

/// <summary>The stream that keeps a page current, as one asks for it who has nothing yet.</summary>
public static class LiveStream
{
    /// <summary>Where to ask: an empty digest for each piece of the page, or the stream would end at once.</summary>
    public static string PathOf(string page) => "/live?of=%2F&have=" + new string(',', page.Split("class=\"piece\"").Length - 2);
}
