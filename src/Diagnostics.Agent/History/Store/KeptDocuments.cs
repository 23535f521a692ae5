namespace Diagnostics.Agent.History.Store;

/// <summary>Documents that lie beside the store in a log's directory, so that it can be read without the service that wrote it.</summary>
internal static class KeptDocuments
{
    /// <summary>The last report document.</summary>
    public const string Report = "report.json";

    /// <summary>The settings in force.</summary>
    public const string Settings = "settings.json";

    /// <summary>The as-built record.</summary>
    public const string Site = "site.json";
}
