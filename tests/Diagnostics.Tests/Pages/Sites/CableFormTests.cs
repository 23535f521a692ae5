using Diagnostics.Agent.Pages;
using Diagnostics.Agent.Pages.Sites;
using Diagnostics.Agent.Records;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Wording;

namespace Diagnostics.Tests.Pages.Sites;

public class CableFormTests
{
    private static readonly AsBuiltRecord Record = new()
    {
        Trunk = [new(null, 120, false, null), new(1, null, false, 0), new(5, null, false, 12.5), new(null, null, true, 2), new(7, null, false, 8), new(null, 118.5, false, 3)],
        Nodes = [new() { Address = 1 }, new() { Address = 5 }, new() { Address = 7 }],
    };

    private static readonly SiteView View = SiteView.Of(new(SampleReports.NothingHeard()), new RecordBook(Record, null, null, TimeProvider.System));

    [Fact]
    public void TheFormSaysTheRecordAndTheRecordComesOutOfIt()
    {
        CableForm form = CableForm.Of(View);
        Assert.Equal(("120", "118.5", "3"), (form.Begin, form.End, form.EndMetres));
        Assert.Equal(Record.Trunk, Trunk(form));
    }

    [Fact]
    public void ADeviceThatIsMovedLeavesTheLengthsWhereTheyAre()
    {
        CableForm moved = CableForm.Of(View).After("up-3", [], out int? place);
        Assert.Equal(2, place);
        Assert.Equal(["1", "5", "7", "clip"], moved.Places.Select(entry => entry.What));
        Assert.Equal(["0", "12.5", "2", "8"], moved.Places.Select(entry => entry.Metres));
        Assert.Equal(CableForm.Of(View).Places, moved.After("down-2", [], out _).Places);
    }

    /// <summary>One step does what Up or Down would do in several.</summary>
    [Theory]
    [InlineData(3, null, "7,1,5,clip", 0)]
    [InlineData(0, 3, "5,clip,7,1", 3)]
    [InlineData(0, 1, "5,1,clip,7", 1)]
    [InlineData(3, 0, "1,7,5,clip", 1)]
    public void AMoveBringsADeviceBehindAnother(int chosen, int? behind, string order, int place)
    {
        CableForm moved = (CableForm.Of(View) with { Chosen = chosen, Behind = behind }).After(CableForm.Move, [], out int? focus);
        Assert.Equal(order, string.Join(',', moved.Places.Select(entry => entry.What)));
        Assert.Equal(["0", "12.5", "2", "8"], moved.Places.Select(entry => entry.Metres));
        Assert.Equal(place, focus);
    }

    [Fact]
    public void NothingMovesWhereNothingOrTheSameIsChosen()
    {
        Assert.Equal(CableForm.Of(View).Places, CableForm.Of(View).After(CableForm.Move, [], out _).Places);
        Assert.Equal(CableForm.Of(View).Places, (CableForm.Of(View) with { Chosen = 2, Behind = 2 }).After(CableForm.Move, [], out _).Places);
    }

    [Theory]
    [InlineData("up-0")]
    [InlineData("down-3")]
    [InlineData("up-99")]
    [InlineData("off--1")]
    [InlineData("add-9")]
    [InlineData("nonsense")]
    [InlineData("up-")]
    [InlineData("-")]
    public void WhatCantBeDoneChangesNothing(string act) => Assert.Equal(CableForm.Of(View).Places, CableForm.Of(View).After(act, [8], out _).Places);

    [Fact]
    public void TheCableOfADeviceThatIsTakenOffStays()
    {
        Assert.Equal(["0", "14.5", "8"], CableForm.Of(View).After("off-1", [], out _).Places.Select(entry => entry.Metres));
        Assert.Equal("11", CableForm.Of(View).After("off-3", [], out _).EndMetres);
        Assert.Equal("12.5", CableForm.Of(View).After("off-0", [], out _).Places[0].Metres);
        CableForm unknown = CableForm.Of(View) with { Begin = string.Empty };
        Assert.Equal(string.Empty, unknown.After("off-0", [], out _).Places[0].Metres);
    }

    [Fact]
    public void OthersGoToTheEndByAddress()
    {
        CableForm form = CableForm.Of(View);
        Assert.Equal(["1", "5", "clip", "7", "9"], form.After("add-9", [8, 9], out int? place).Places.Select(entry => entry.What));
        Assert.Equal(4, place);
        Assert.Equal(["1", "5", "clip", "7", "8", "9"], form.After(CableForm.AddAll, [9, 8], out _).Places.Select(entry => entry.What));
        Assert.Equal(form.Places, form.After(CableForm.AddClip, [], out _).Places);
    }

    [Theory]
    [InlineData("12,5", 12.5)]
    [InlineData(" 7 ", 7.0)]
    [InlineData("", null)]
    [InlineData("0", 0.0)]
    public void ACommaIsTakenForThePointAndNothingForUnknown(string written, double? metres)
    {
        CableForm form = CableForm.Of(View);
        Assert.Equal(metres, Trunk(form with { Places = [form.Places[0] with { Metres = written }] })[1].Metres);
    }

    [Theory]
    [InlineData("-1")]
    [InlineData("1e3")]
    [InlineData("NaN")]
    [InlineData("10001")]
    [InlineData("2 m")]
    public void ALengthThatIsNoneIsTold(string written)
    {
        CableForm form = CableForm.Of(View);
        Assert.False((form with { Places = [form.Places[0] with { Metres = written }] }).TryRecord(View, out _, out Sentence? why));
        Assert.Contains($"“{written}”", why!.English, StringComparison.Ordinal);
        Assert.False((form with { End = written == "10001" ? "100001" : written }).TryRecord(View, out _, out _));
    }

    [Theory]
    [InlineData("-5")]
    [InlineData(" \u22125,5 ")]
    public void ANegativeNumberIsToldAsSuchWithItsRange(string written)
    {
        CableForm form = CableForm.Of(View);
        Assert.False((form with { Places = [form.Places[0] with { Metres = written }] }).TryRecord(View, out _, out Sentence? length));
        Assert.Equal($"A length of cable must not be negative, as “{written}” is: give metres from 0 to 10,000, or leave it empty where nobody knows.", length!.English);
        Assert.False((form with { End = written }).TryRecord(View, out _, out Sentence? resistance));
        Assert.Equal($"A resistance must not be negative, as “{written}” is: give ohms up to 100,000, usually 120, or leave it empty where there is no terminator.", resistance!.English);
    }

    private static IReadOnlyList<TrunkEntry> Trunk(CableForm form)
    {
        Assert.True(form.TryRecord(View, out AsBuiltRecord record, out _));
        return record.Trunk;
    }
}
