using System.Globalization;
using System.Text;
using Diagnostics.Core.Protocols.CanOpen;

namespace Diagnostics.Tests.Protocols.CanOpen;

/// <summary>
/// Data sheets of the invented modules of the Wrenfield community library. Sections and keys as CiA 306-1 has them, from memory: file information,
/// general device information, device commissioning (DCF), object lists, object descriptions, compact storage.
/// </summary>
internal static class WrenfieldSheets
{
    public const uint Vendor = 0xFA0;

    /// <summary>The panel in full: it sends its eight buttons in TPDO2, and outputs 1–8 come in RPDO1. Written with what the standard allows of variety.</summary>
    public const string Panel = """
        ; invented for the Wrenfield community library
        [FileInfo]
        FileName=wr-p8.eds
        FileVersion=1
        FileRevision=3
        EDSVersion=4.0
        Description=Panel with 8 buttons; and lamps
        CreationTime=10:15AM
        CreationDate=01-07-2026

        [DeviceInfo]
        VendorName=Wrenfield Works
        VendorNumber=0x00000FA0
        ProductName=Push-button panel 8
        productnumber=257
        RevisionNumber=0400004
        OrderCode=WR-P8
        BaudRate_125=1
        NrOfRXPDO=1
        NrOfTXPDO=2
        LSS_Supported=0

        [DummyUsage]
        Dummy0005=1

        [MandatoryObjects]
        SupportedObjects=3
        1=0x1000
        2=0x1001
        3=0x1018

        [1000]
        ParameterName=Device type
        ObjectType=0x7
        DataType=0x0007
        AccessType=ro
        DefaultValue=0x00030191
        PDOMapping=0

        [1001]
        ParameterName=Error register
        ObjectType=0x7
        DataType=0x0005
        AccessType=ro
        PDOMapping=1

        [1018]
        ParameterName=Identity
        ObjectType=0x9
        SubNumber=4

        [1018sub0]
        ParameterName=Entries
        DefaultValue=3

        [1018sub1]
        ParameterName=Vendor-ID
        DefaultValue=0xFA0

        [1018sub2]
        ParameterName=Product code
        DefaultValue=0x101

        [1018sub3]
        ParameterName=Revision number
        DefaultValue=0x00020004 ; since 2026

        [OptionalObjects]
        SupportedObjects=7
        1=0x1017
        2=0x1400
        3=0x1600
        4=0x1800
        5=0x1801
        6=0x1A00
        7=0x1A01

        [1017]
        DefaultValue=1000

        [1400]
        SubNumber=3

        [1400sub1]
        DefaultValue=$NODEID+0x200

        [1600]
        SubNumber=3

        [1600sub0]
        DefaultValue=2

        [1600sub1]
        DefaultValue=0x62000108

        [1600sub2]
        DefaultValue=0x00050008

        [1800]
        SubNumber=3

        [1800SUB1]
        DefaultValue=$NodeId + 0x80000180

        [1801]
        SubNumber=3

        [1801sub1]
        DefaultValue=0x280+$NODEID

        [1A00]
        SubNumber=1

        [1A00sub0]
        DefaultValue=0x0

        [1A01]
        SubNumber=2

        [1A01sub0]
        DefaultValue=1

        [1A01sub1]
        ParameterName=Buttons
        DataType=0x0007
        AccessType=rw
        DefaultValue=0x60000108

        [ManufacturerObjects]
        SupportedObjects=0
        """;

    /// <summary>The same device as the configuration tool left it at node 5: buttons in TPDO1 on 1C5h, and TPDO2 off.</summary>
    public static readonly string WorkshopPanel = Panel
        .Replace("[DummyUsage]", """
            [DeviceComissioning]
            NodeID=5
            NodeName=workshop buttons
            Baudrate=125
            NetNumber=0
            CANopenManager=0

            [DummyUsage]
            """, StringComparison.Ordinal)
        .Replace("DefaultValue=$NodeId + 0x80000180", "DefaultValue=$NodeId + 0x80000180\nParameterValue=$NODEID+0x1C0", StringComparison.Ordinal)
        .Replace("DefaultValue=0x280+$NODEID", "DefaultValue=0x280+$NODEID\nParameterValue=0x80000285", StringComparison.Ordinal)
        .Replace("[1A00]\nSubNumber=1", "[1A00]\nSubNumber=2", StringComparison.Ordinal)
        .Replace("DefaultValue=0x0\n", "DefaultValue=0x0\nParameterValue=1\n\n[1A00sub1]\nParameterValue=0x60000208\n", StringComparison.Ordinal)
        .Replace("[1A01sub0]\nDefaultValue=1", "[1A01sub0]\nDefaultValue=1\nParameterValue=0", StringComparison.Ordinal);

    /// <summary>A short sheet with what matters: PDOs as name, then entries, for example ("TPDO2", ["60000108"], "$NODEID+0x280").</summary>
    public static string Text(uint product, string? node, params (string Pdo, string[] Entries, string? CobId)[] pdos)
    {
        StringBuilder text = new();
        text.Append(CultureInfo.InvariantCulture, $"[FileInfo]\nFileName=x\n[DeviceInfo]\nVendorNumber=0x{Vendor:X}\nProductName=module {product:X}\nProductNumber=0x{product:X}\nNrOfTXPDO=0\nNrOfRXPDO=0\n");
        text.Append(node is null ? "" : $"[DeviceComissioning]\n{node}\n");
        text.Append("[1000]\nDefaultValue=0x30191\n");
        foreach ((string pdo, string[] entries, string? cobId) in pdos)
        {
            int index = (pdo[0] == 'T' ? 0x1800 : 0x1400) + pdo[4] - '1';
            text.Append(CultureInfo.InvariantCulture, $"[{index:X4}]\n[{index:X4}sub1]\nDefaultValue={cobId}\n[{index + 0x200:X4}]\n[{index + 0x200:X4}sub0]\nDefaultValue={entries.Length}\n");
            for (int i = 0; i < entries.Length; i++)
            {
                text.Append(CultureInfo.InvariantCulture, $"[{index + 0x200:X4}sub{i + 1:X}]\nDefaultValue=0x{entries[i]}\n");
            }
        }

        return text.ToString();
    }

    public static DataSheet Sheet(string text, string name = "panel.eds")
    {
        Assert.True(DataSheetReader.TryRead(Encoding.UTF8.GetBytes(text), name, out DataSheet? sheet, out DataSheetError? error, out _), error?.ToString());
        return sheet!;
    }
}
