using Diagnostics.Can;

namespace Diagnostics.Core.Counting;

/// <summary>Bits on the wire that errors take up.</summary>
internal static class ErrorBits
{
    /// <summary>What an error costs on the wire besides the frame: a flag of 6 to 12 bits (9 taken), its delimiter of 8 and the intermission of 3.</summary>
    public const double ErrorFrame = 20;

    /// <summary>The part of the frame that was lost: by its location, else half a frame of 100 bits.</summary>
    public static double Lost(in ErrorMessage message) => message.Location switch
    {
        ErrorLocation.StartOfFrame => 1,
        ErrorLocation.IdentifierBits28To21 or ErrorLocation.IdentifierBits20To18 => 8,
        ErrorLocation.RemoteRequest or ErrorLocation.DataLengthCode or ErrorLocation.ReservedBit0 or ErrorLocation.ReservedBit1 => 18,
        ErrorLocation.CrcSequence or ErrorLocation.CrcDelimiter => 95,
        ErrorLocation.AcknowledgeSlot or ErrorLocation.AcknowledgeDelimiter => 98,
        ErrorLocation.EndOfFrame => 105,
        _ => 50,
    };
}
