using System.Globalization;
using System.Numerics;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Protocols.CanOpen;

/// <summary>
/// CANopen's numbers in a technician's words. Emergency codes and the error register from CiA 301 and 401, SDO abort codes and object names from
/// CiA 301, as listed in public stack sources (reference values 7.1–7.3).
/// </summary>
internal static class CanOpenWords
{
    /// <summary>The most specific words for an emergency error code; the class where the code itself isn't known.</summary>
    public static Sentence Emergency(ushort code) => code switch
    {
        0x0000 => Say($"no error, or the error is gone"),
        0x2310 => Say($"current at the outputs too high (overload)"),
        0x2320 => Say($"short circuit at the outputs"),
        0x2330 => Say($"load dump at the outputs"),
        0x3110 => Say($"input voltage too high"),
        0x3120 => Say($"input voltage too low"),
        0x3210 => Say($"internal voltage too high"),
        0x3220 => Say($"internal voltage too low"),
        0x3310 => Say($"output voltage too high"),
        0x3320 => Say($"output voltage too low"),
        0x8110 => Say($"CAN overrun: frames were lost in the node"),
        0x8120 => Say($"CAN controller went error-passive"),
        0x8130 => Say($"guarding or heartbeat of another node is missing"),
        0x8140 => Say($"recovered from bus-off"),
        0x8150 => Say($"identifier collision: another device sends this node's identifier"),
        0x8210 => Say($"PDO not processed: it was too short"),
        0x8220 => Say($"PDO longer than mapped"),
        0x8240 => Say($"SYNC of unexpected length"),
        0x8250 => Say($"an expected PDO did not arrive in time"),
        _ => EmergencyClass(code),
    };

    /// <summary>Writing it changes when a device sends its PDOs: identifier and valid bit, type, inhibit time and event timer of a TPDO (CiA 301).</summary>
    public static bool SetsPaceOfPdos(ushort index, byte subIndex) => index is >= 0x1800 and <= 0x19FF && subIndex is 1 or 2 or 3 or 5;

    /// <summary>Whether CiA 301 knows the group that the code's upper byte names; 00h is "no error".</summary>
    public static bool IsKnownEmergencyClass(ushort code) => (code >> 8) is 0x00 or (>= 0x10 and <= 0x9F) or 0xF0 or 0xFF;

    /// <summary>The class of an emergency error code, by its upper byte.</summary>
    public static Sentence EmergencyClass(ushort code) => (code >> 8) switch
    {
        0x00 => Say($"no error, or the error is gone"),
        0x10 => Say($"generic error"),
        0x20 => Say($"current"),
        0x21 => Say($"current on the input side"),
        0x22 => Say($"current inside the device"),
        0x23 => Say($"current on the output side"),
        0x30 => Say($"voltage"),
        0x31 => Say($"mains or supply voltage"),
        0x32 => Say($"voltage inside the device"),
        0x33 => Say($"output voltage"),
        0x40 => Say($"temperature"),
        0x41 => Say($"ambient temperature"),
        0x42 => Say($"device temperature"),
        0x50 => Say($"device hardware"),
        0x60 => Say($"device software"),
        0x61 => Say($"internal software"),
        0x62 => Say($"user software"),
        0x63 => Say($"data set of the software"),
        0x70 => Say($"additional modules"),
        0x80 => Say($"monitoring"),
        0x81 => Say($"communication"),
        0x82 => Say($"protocol error"),
        0x90 => Say($"external error"),
        0xF0 => Say($"additional functions"),
        0xFF => Say($"device specific"),

        // Codes between the named ones still belong to the group of their first digit.
        >= 0x10 and <= 0x1F => Say($"generic error"),
        >= 0x20 and <= 0x2F => Say($"current"),
        >= 0x30 and <= 0x3F => Say($"voltage"),
        >= 0x40 and <= 0x4F => Say($"temperature"),
        >= 0x50 and <= 0x5F => Say($"device hardware"),
        >= 0x60 and <= 0x6F => Say($"device software"),
        >= 0x70 and <= 0x7F => Say($"additional modules"),
        >= 0x80 and <= 0x8F => Say($"monitoring"),
        >= 0x90 and <= 0x9F => Say($"external error"),
        _ => Say($"unknown class of error"),
    };

    /// <summary>Names of the bits set in the error register 1001h, joined by commas; "no error" when none is.</summary>
    public static Sentence ErrorRegister(byte register)
    {
        if (register == 0)
        {
            return Say($"no error");
        }

        List<Sentence> words = new(8);
        for (int bits = register; bits != 0; bits &= bits - 1)
        {
            words.Add(RegisterBit(BitOperations.TrailingZeroCount(bits)));
        }

        return Listed(words);
    }

    private static Sentence RegisterBit(int bit) => bit switch
    {
        0 => Say($"generic error"),
        1 => Say($"current"),
        2 => Say($"voltage"),
        3 => Say($"temperature"),
        4 => Say($"communication"),
        5 => Say($"device profile"),
        6 => Say($"reserved bit"),
        _ => Say($"manufacturer specific"),
    };

    public static string SdoAbort(uint code) => code switch
    {
        0x05030000 => "toggle bit did not alternate",
        0x05040000 => "the transfer timed out",
        0x05040001 => "command not known",
        0x05040002 => "block size not allowed",
        0x05040003 => "sequence number not allowed",
        0x05040004 => "checksum of the block is wrong",
        0x05040005 => "out of memory",
        0x06010000 => "access to the object is not supported",
        0x06010001 => "the object can only be written",
        0x06010002 => "the object can only be read",
        0x06020000 => "the object does not exist",
        0x06040041 => "the object cannot be mapped to a PDO",
        0x06040042 => "the mapped objects are longer than a PDO",
        0x06040043 => "parameters are incompatible",
        0x06040047 => "internal incompatibility in the device",
        0x06060000 => "a hardware error prevented access",
        0x06070010 => "the length does not match",
        0x06070012 => "the value is too long",
        0x06070013 => "the value is too short",
        0x06090011 => "the sub-index does not exist",
        0x06090030 => "the value is not allowed",
        0x06090031 => "the value is too high",
        0x06090032 => "the value is too low",
        0x06090036 => "the maximum is below the minimum",
        0x060A0023 => "a resource is not available",
        0x08000000 => "general error",
        0x08000020 => "the value cannot be stored",
        0x08000021 => "the value cannot be stored while the device is under local control",
        0x08000022 => "the value cannot be stored in the present device state",
        0x08000023 => "no object dictionary is present",
        0x08000024 => "no data is available",
        _ => string.Create(CultureInfo.InvariantCulture, $"unknown abort code {code:X8}h"),
    };

    public static string Command(NmtCommand command) => command switch
    {
        NmtCommand.Start => "start",
        NmtCommand.Stop => "stop",
        NmtCommand.EnterPreOperational => "go to pre-operational",
        NmtCommand.ResetNode => "restart",
        NmtCommand.ResetCommunication => "restart communication",
        _ => string.Create(CultureInfo.InvariantCulture, $"unknown command {(byte)command}"),
    };

    /// <summary>As the report document spells states.</summary>
    public static string State(NodeState state) => state switch
    {
        NodeState.Initialising => "initialising",
        NodeState.Stopped => "stopped",
        NodeState.Operational => "operational",
        NodeState.PreOperational => "pre-operational",
        _ => string.Create(CultureInfo.InvariantCulture, $"unknown state {(byte)state}"),
    };

    /// <summary>What an object is called; its index where it has no common name.</summary>
    public static string ObjectName(ushort index) => index switch
    {
        0x1000 => "device type",
        0x1001 => "error register",
        0x1002 => "manufacturer status",
        0x1003 => "list of past errors",
        0x1005 => "identifier of SYNC",
        0x1006 => "period of SYNC",
        0x1007 => "window after SYNC",
        0x1008 => "device name",
        0x1009 => "hardware version",
        0x100A => "firmware version",
        0x100C => "guard time",
        0x100D => "life time factor",
        0x1010 => "store parameters",
        0x1011 => "restore default parameters",
        0x1012 => "identifier of TIME",
        0x1014 => "identifier of emergency messages",
        0x1015 => "inhibit time of emergency messages",
        0x1016 => "heartbeats to watch",
        0x1017 => "heartbeat time",
        0x1018 => "identity",
        0x1019 => "overflow of the SYNC counter",
        0x1029 => "behaviour on errors",
        >= 0x1200 and <= 0x127F => "SDO server parameters",
        >= 0x1280 and <= 0x12FF => "SDO client parameters",
        >= 0x1400 and <= 0x15FF => Numbered("settings of RPDO", index - 0x1400),
        >= 0x1600 and <= 0x17FF => Numbered("mapping of RPDO", index - 0x1600),
        >= 0x1800 and <= 0x19FF => Numbered("settings of TPDO", index - 0x1800),
        >= 0x1A00 and <= 0x1BFF => Numbered("mapping of TPDO", index - 0x1A00),
        0x1F50 => "program data (firmware download)",
        0x1F51 => "program control",
        0x1F80 => "start-up behaviour",
        0x6000 => "digital inputs",
        0x6002 => "polarity of digital inputs",
        0x6003 => "filter of digital inputs",
        0x6005 => "interrupt of digital inputs",
        0x6006 => "any-change mask of digital inputs",
        0x6007 => "rising-edge mask of digital inputs",
        0x6008 => "falling-edge mask of digital inputs",
        0x6200 => "digital outputs",
        0x6202 => "polarity of digital outputs",
        0x6206 => "error mode of digital outputs",
        0x6207 => "error value of digital outputs",
        0x6208 => "filter mask of digital outputs",
        0x6401 => "analogue inputs",
        0x6411 => "analogue outputs",
        _ => string.Create(CultureInfo.InvariantCulture, $"object {index:X4}h"),
    };

    private static string Numbered(string words, int zeroBased) =>
        string.Create(CultureInfo.InvariantCulture, $"{words}{zeroBased + 1}");
}
