using System.Text;
using Diagnostics.Agent;
using Diagnostics.Agent.Boards;
using Diagnostics.Agent.Commands;

namespace Diagnostics.Tests.Boards;

public class BoardSettingsReaderTests
{
    private static BoardSettings Read(string json)
    {
        ConfigurationObject file = ConfigurationFile.Parse(Encoding.UTF8.GetBytes("{ \"board\":\n" + json + " }"), "agent.json", "agent.json");
        return BoardSettingsReader.Read(Assert.Single(file.Members));
    }

    [Fact]
    public void NothingIsFittedUnlessItIsNamed()
    {
        BoardSettings settings = Read("{}");
        Assert.Null(settings.Supply);
        Assert.Null(settings.Line);
        Assert.Null(settings.AirAddress);
        Assert.Null(settings.Light);
        Assert.Null(settings.Button);
        Assert.Null(settings.DisplayAddress);
        Assert.Equal(new BoardSettings(), settings);
    }

    /// <summary>Another program's file, named by mistake. Where each member's place was counted from the beginning, this took minutes.</summary>
    [Fact]
    public void AMegabyteOfMembersIsRefusedAtItsFirst()
    {
        string many = string.Join(",\n", Enumerable.Range(0, 100_000).Select(n => $"\"k{n}\": 1"));
        Assert.Contains("board.k0 (from agent.json, line 2, column 2): there is no such setting", Assert.Throws<SettingException>(() => Read("{" + many + "}")).Message, StringComparison.Ordinal);
        Assert.Contains("board.k7 (from agent.json, line 100002, column 1): the setting stands there twice", Assert.Throws<SettingException>(() => Read("{" + many + ",\n\"k7\": 2}")).Message, StringComparison.Ordinal);
    }

    [Fact]
    public void AllThatCanBeFitted()
    {
        BoardSettings settings = Read("""
            { "i2cBus": 3, "gpioChip": 4, "interface": "can1",
              "supply": { "part": "ina236", "address": "0x41", "shuntOhms": 0.01, "nominalVolts": 24, "lowVolts": 21, "dipVolts": 18 },
              "line": { "supplyVolts": 3.3, "upperOhms": 91000, "lowerOhms": 10000, "toleranceRatio": 0.001, "samplesPerSecond": 32 },
              "air": { "address": "0x77" }, "temperature": false,
              "light": { "greenPin": 17, "redPin": 27 }, "display": {}, "button": { "pin": 22, "stick": "/media/stick" } }
            """);
        Assert.Equal((3, 4, "can1", false), (settings.I2cBus, settings.GpioChip, settings.Interface, settings.Temperature));
        Assert.Equal((SupplyPart.Ina236, 0x41, 0.01), (settings.Supply!.Part, settings.Supply.Address, settings.Supply.Shunt.Ohms));
        Assert.Equal((24.0, 21.0, 18.0, "can1"), (settings.Limits.NominalSupplyVolts, settings.Limits.Low, settings.Limits.Dip, settings.Limits.Interface));
        Assert.Equal((0x48, 32, 0, 1), (settings.Line!.Address, settings.Line.SamplesPerSecond, settings.Line.HighInput, settings.Line.LowInput));
        Assert.Equal((0x77, 0x3C, new ButtonSettings(22, "/media/stick"), new LightSettings(17, 27)), (settings.AirAddress, settings.DisplayAddress, settings.Button, settings.Light));
    }

    [Theory]
    [InlineData("[]", "board (from agent.json, line 2, column 1): it is no object")]
    [InlineData("""{ "suply": {} }""", "board.suply (from agent.json, line 2, column 3): there is no such setting; the nearest one is supply")]
    [InlineData("""{ "supply": { "shuntOhm": 1 } }""", "board.supply.shuntOhm (from agent.json, line 2, column 15): there is no such setting; the nearest one is shuntOhms")]
    [InlineData("""{ "supply": {}, "supply": {} }""", "board.supply (from agent.json, line 2, column 17): the setting stands there twice")]
    [InlineData("""{ "supply": { "part": "ina999" } }""", "choose ina219 or ina236")]
    [InlineData("""{ "supply": { "address": "0x50" } }""", "0x50 is no address of this part; give \"0x40\" to \"0x4f\"")]
    [InlineData("""{ "supply": { "address": "64x" } }""", "64x is no address of this part")]
    [InlineData("""{ "supply": { "part": "ina219", "nominalVolts": 27 } }""", "nominalVolts (from agent.json, line 2, column 49): 27 is not within its limits; give volts, 1 to 26")]
    [InlineData("""{ "supply": { "nominalVolts": 24, "lowVolts": 24 } }""", "not below nominalVolts")]
    [InlineData("""{ "line": { "upperOhms": 91000, "lowerOhms": 10000 } }""", "board.line.supplyVolts (from agent.json, line 2, column 11): it is missing")]
    [InlineData("""{ "line": { "supplyVolts": 3.3, "lowerOhms": 10000 } }""", "board.line.upperOhms (from agent.json, line 2, column 11): it is missing")]
    [InlineData("""{ "line": { "supplyVolts": 3.3, "upperOhms": 91000, "lowerOhms": 10000, "samplesPerSecond": 128 } }""", "a sample would be 7.8 ms long")]
    [InlineData("""{ "line": { "supplyVolts": 3.3, "upperOhms": 91000, "lowerOhms": 10000, "samplesPerSecond": 100 } }""", "no rate of 100")]
    [InlineData("""{ "line": { "supplyVolts": 3.3, "upperOhms": 91000, "lowerOhms": 10000, "highInput": 1, "lowInput": 0 } }""", "can't measure the difference of its inputs 1 and 0")]
    [InlineData("""{ "line": { "supplyVolts": 3.3, "upperOhms": 9100, "lowerOhms": 1000 } }""", "would load each line with less than 50 k")]
    [InlineData("""{ "line": { "supplyVolts": 5, "upperOhms": 43000, "lowerOhms": 10000, "worstVolts": 15 } }""", "would pull an input more than 0.3 V below its ground")]
    [InlineData("""{ "air": { "address": 3 } }""", "3 is no address of this part")]
    [InlineData("""{ "light": {} }""", "board.light.greenPin (from agent.json, line 2, column 12): it is missing")]
    [InlineData("""{ "button": {} }""", "board.button.pin (from agent.json, line 2, column 13): it is missing")]
    [InlineData("""{ "button": { "pin": 1.5 } }""", "no whole number")]
    [InlineData("""{ "button": { "pin": 3, "stick": "stick" } }""", "'stick' is no whole path")]
    [InlineData("""{ "light": { "greenPin": 17 }, "button": { "pin": 17 } }""", "line 17 is given to two parts")]
    [InlineData("""{ "supply": { "address": "0x48" }, "line": { "supplyVolts": 3.3, "upperOhms": 91000, "lowerOhms": 10000 } }""", "two parts have the address 0x48")]
    [InlineData("""{ "temperature": "yes" }""", "neither true nor false")]
    [InlineData("""{ "i2cBus": "1" }""", "board.i2cBus (from agent.json, line 2, column 13): it is no number")]
    [InlineData("""{ "supply": { "address": {} } }""", "board.supply.address (from agent.json, line 2, column 26): an object is no address of this part")]
    public void WhatIsWrongIsToldByNameAndPlace(string json, string told) =>
        Assert.Contains(told, Assert.Throws<SettingException>(() => Read(json)).Message, StringComparison.Ordinal);

    /// <summary>
    /// By hand: 82 kΩ over 10 kΩ with 1 %: 10.1 / (10.1 + 81.18) = 0.11065, at 30 V 3.32 V, above 3.3 V. The next larger of the E24 row, 91 kΩ: 10.1 / (10.1 + 90.09) = 0.10081, 3.02 V. (Kirchhoff's laws.)
    /// </summary>
    [Theory]
    [InlineData(82_000, 0.01, null, "a line that touches 30 V would put 3.32 V on an input of a part that runs on 3.3 V, and may destroy it; use 82,544 Ω or more above 10,000 Ω")]
    [InlineData(91_000, 0.01, null, null)]
    [InlineData(82_000, 0.001, null, null)]
    [InlineData(91_000, 0.01, 33, "would put 3.33 V")]
    [InlineData(62_000, 0.01, 15, null)]
    public void AnInputStaysBelowItsSupplyInTheWorstCase(int upper, double tolerance, int? worst, string? told)
    {
        string json = FormattableString.Invariant($$"""{ "line": { "supplyVolts": 3.3, "upperOhms": {{upper}}, "lowerOhms": 10000, "toleranceRatio": {{tolerance}}, "worstVolts": {{worst?.ToString(System.Globalization.CultureInfo.InvariantCulture) ?? "null"}} } }""");
        if (told is null)
        {
            Assert.NotNull(Read(json).Line);
        }
        else
        {
            Assert.Contains(told, Assert.Throws<SettingException>(() => Read(json)).Message, StringComparison.Ordinal);
        }
    }

    /// <summary>By hand for 91 kΩ over 10 kΩ: 0.1 % of each may put the ratio 0.18 % off (2t(1 − r)), 1 % 1.8 %.</summary>
    [Theory]
    [InlineData(0.001, 0.0018)]
    [InlineData(0.01, 0.0182)]
    public void TheErrorOfADivider(double tolerance, double error)
    {
        Divider divider = new(UnitsNet.ElectricResistance.FromOhms(91_000), UnitsNet.ElectricResistance.FromOhms(10_000), tolerance);
        Assert.Equal(error, divider.WorstErrorRatio, 0.0001);
        Assert.Equal(9009.9, divider.Source.Ohms, 0.1);
    }
}
