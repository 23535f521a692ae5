using System.Buffers;
using System.Text.Json;

namespace Diagnostics.Agent.Bundles;

/// <summary>
/// The settings in force as a document that may be handed on. Members are named here one by one, so that one that is added to the settings doesn't go out by itself; paths of the board
/// stay behind as well.
/// </summary>
internal static class SettingsDocument
{
    public static byte[] ToUtf8(AgentSettings settings)
    {
        ArrayBufferWriter<byte> bytes = new();
        using (Utf8JsonWriter json = new(bytes, new() { Indented = true }))
        {
            json.WriteStartObject();
            json.WriteNumber("schema", 1);
            json.WriteStartArray("interfaces");
            foreach (string name in settings.Interfaces)
            {
                json.WriteStringValue(name);
            }

            json.WriteEndArray();
            if (settings.BitRate is { } bitRate)
            {
                json.WriteNumber("bitRate", bitRate);
            }
            else
            {
                json.WriteNull("bitRate");
            }

            json.WriteString("protocol", settings.Protocol);
            json.WriteNumber("port", settings.Port);
            json.WriteNumber("logMegabytes", settings.LogMegabytes);
            json.WriteNumber("inputDays", settings.InputDays);
            json.WriteString("language", settings.Language?.Code ?? AgentSettingsReader.AutomaticLanguage);
            json.WriteEndObject();
        }

        return bytes.WrittenSpan.ToArray();
    }
}
