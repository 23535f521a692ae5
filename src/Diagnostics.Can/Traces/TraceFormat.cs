namespace Diagnostics.Can.Traces;

/// <summary>The formats that <see cref="TraceParser"/> reads.</summary>
public enum TraceFormat
{
    /// <summary>pcapng, draft-tuexen-opsawg-pcapng.</summary>
    Pcapng,

    /// <summary>Classic pcap, micro- or nanoseconds.</summary>
    Pcap,

    /// <summary>The SocketCAN text log: <c>(seconds.micros) interface ID#DATA</c>.</summary>
    TextLog,
}
