namespace Diagnostics.Agent.Commands;

/// <summary>Options that several commands take, so that each reads the same everywhere.</summary>
internal static class SharedOptions
{
    public static readonly CommandOption BitRate = new("--bit-rate", "N", "Bit rate of the bus in bit/s, where the interface can't tell.");
    public static readonly CommandOption Protocol = new(
        "--protocol",
        "NAME|FILE",
        "What the bytes mean: auto (the default), canopen, none; or the data sheets (EDS, DCF) of CANopen devices: files, or a directory of them. May be given several times.",
        IsList: true);
    public static readonly CommandOption Site = new("--site", "FILE", "The as-built record: names, addresses, cable order.");
    public static readonly CommandOption Port = new("--port", "N", $"TCP port of the report page; {AgentSettings.DefaultPort} unless told otherwise, 0 for any free one.");
    public static readonly CommandOption ListenOn = new("--listen-on", "ADDRESS", "Serve the page to other devices too, which then need the passcode (see 'passcode'): addresses of this board, or all.", IsList: true);
    public static readonly CommandOption Certificate = new("--certificate", "FILE", "Serve other devices over TLS: your certificate with its chain, PEM.");
    public static readonly CommandOption CertificateKey = new("--certificate-key", "FILE", "The key of the certificate, PEM, which nobody else may read.");
    public static readonly CommandOption Log = new("--log", "DIR", "Directory of the log.");
    public static readonly CommandOption Language = new("--language", "CODE", "Language of the page, for a reader who chose none there: auto (as the browser asks, the default), en, de.");
    public static readonly CommandOption Json = new("--json", null, "Print the report document and nothing else.");
    public static readonly CommandOption Html = new("--html", "FILE", "Write the report page into a file that needs nothing else.");
}
