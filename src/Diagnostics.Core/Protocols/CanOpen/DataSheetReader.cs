using Diagnostics.Core.Wording;

namespace Diagnostics.Core.Protocols.CanOpen;

/// <summary>
/// Reads an electronic data sheet (EDS) or a device configuration file (DCF) of CiA 306-1, told by its content: a section [DeviceInfo] and the object
/// 1000h, which every CANopen device has. Values that the analysis uses are read strictly, and the first that is wrong is told with its line, as
/// a wrong mapping would lead to wrong findings; everything else in the file is left alone. A DCF names its node; without one it holds like an EDS.
/// </summary>
public static class DataSheetReader
{
    /// <summary>Sheets that name no node, in one analysis; more are not looked at.</summary>
    public const int MostKinds = CanOpenLimits.DataSheetsOfKinds;

    /// <summary>False, with <paramref name="error"/>, when the file is no data sheet or can't be used; never throws for any content.</summary>
    /// <param name="bytes">The whole file.</param>
    /// <param name="name">How the sheet is called in messages.</param>
    /// <param name="sheet">What it says.</param>
    /// <param name="error">What is wrong.</param>
    /// <param name="remarks">Parts of a usable sheet that say less than they should, as phrases that begin with their line; at most 20.</param>
    public static bool TryRead(ReadOnlySpan<byte> bytes, string name, out DataSheet? sheet, out DataSheetError? error, out IReadOnlyList<Sentence> remarks)
    {
        sheet = null;
        remarks = [];
        error = CheckForm(bytes);
        if (error is not null)
        {
            return false;
        }

        DataSheetWalk walk = new(new(bytes));
        DataSheet read = walk.Sheet(name);
        error = walk.Error;
        if (error is not null)
        {
            return false;
        }

        sheet = read;
        remarks = walk.Remarks;
        return true;
    }

    private static DataSheetError? CheckForm(ReadOnlySpan<byte> bytes)
    {
        if (bytes.Length > CanOpenLimits.DataSheetBytes)
        {
            return new(1, "the file is longer than 4 MB, the limit of a data sheet", "check that it is the right file");
        }

        if (bytes.StartsWith((ReadOnlySpan<byte>)[0xFF, 0xFE]) || bytes.StartsWith((ReadOnlySpan<byte>)[0xFE, 0xFF]))
        {
            return new(1, "the text is UTF-16", "save the file as UTF-8 or Latin-1");
        }

        ReadOnlySpan<byte> text = bytes.StartsWith("\uFEFF"u8) ? bytes[3..] : bytes;
        return text.TrimStart(" \t\r\n"u8).StartsWith("<"u8)
            ? new(1, "this is XML, and data sheets in XML are not read", DataSheetWalk.NameASheet)
            : null;
    }
}
