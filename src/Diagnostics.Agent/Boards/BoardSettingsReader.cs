using System.Globalization;
using System.Text.Json;
using Diagnostics.Agent.Boards.Sensors;
using Diagnostics.Agent.Commands;
using UnitsNet;

namespace Diagnostics.Agent.Boards;

/// <summary>Checks what the settings say is fitted to the board. What is wrong is told by its whole name, as board.supply.shuntOhms.</summary>
internal static class BoardSettingsReader
{
    public const string Name = "board";

    /// <summary>What a line may have in the worst case where nobody says: it touches a supply of 24 V, which is a quarter high.</summary>
    private const double WorstLineVolts = 30;

    /// <summary>The lowest that ISO 11898-2 allows as common mode of the lines, volts (methods: from memory).</summary>
    private const double LowestLineVolts = -2;

    /// <summary>How far below ground an input of the ADS1115 may go, volts: absolute maximum ratings of its data sheet, SBAS444 (from memory).</summary>
    private const double LowestInputVolts = -0.3;

    /// <summary>A divider that loads the line more than this is no longer a small stub: ISO 11898-2 asks of a whole node at least 10 kΩ (from memory).</summary>
    private const double LeastDividerOhms = 50_000;

    /// <exception cref="SettingException">Something given can't be used.</exception>
    public static BoardSettings Read(ConfigurationMember given)
    {
        Section board = new(given, ["i2cBus", "gpioChip", "interface", "supply", "line", "air", "temperature", "light", "display", "button"]);
        BoardSettings settings = new()
        {
            I2cBus = (int)(board.Number("i2cBus", 0, 255, "give the N of /dev/i2c-N") ?? BoardSettings.DefaultI2cBus),
            GpioChip = (int)(board.Number("gpioChip", 0, 255, "give the N of /dev/gpiochipN") ?? 0),
            Interface = board.Text("interface"),
            Supply = board.Part("supply", ["part", "address", "shuntOhms", "nominalVolts", "lowVolts", "dipVolts"]) is { } supply ? Supply(supply) : null,
            Line = board.Part("line", ["address", "supplyVolts", "samplesPerSecond", "highInput", "lowInput", "upperOhms", "lowerOhms", "toleranceRatio", "worstVolts"]) is { } line ? Line(line) : null,
            AirAddress = board.Part("air", ["address"])?.Address(0x76, 0x77, 0x76),
            Temperature = board.Flag("temperature") ?? true,
            Light = board.Part("light", ["greenPin", "redPin"]) is { } light ? Light(light) : null,
            DisplayAddress = board.Part("display", ["address"])?.Address(0x3C, 0x3D, 0x3C),
            Button = board.Part("button", ["pin", "stick"]) is { } button ? new(button.Pin("pin") ?? throw button.Missing("pin", "give the line of the GPIO chip"), Stick(button)) : null,
        };
        RefuseTwice(board, settings);
        return settings;
    }

    private static SupplySettings Supply(Section section)
    {
        SupplyPart part = section.Text("part")?.ToLowerInvariant() switch
        {
            null or "ina219" => SupplyPart.Ina219,
            "ina236" => SupplyPart.Ina236,
            { } other => throw section.Wrong("part", $"'{other}' is no part that this program knows", "choose ina219 or ina236"),
        };

        // INA219: sixteen addresses by two pins; INA236: four of each of its two kinds (data sheets SBOS448 and SBOSA38, from memory).
        int address = part == SupplyPart.Ina219 ? section.Address(0x40, 0x4F, 0x40) : section.Address(0x40, 0x4B, 0x40);
        double most = part == SupplyPart.Ina219 ? Ina219Sensor.MostVolts : Ina236Sensor.MostVolts;
        SupplySettings supply = new(part, address, ElectricResistance.FromOhms(section.Number("shuntOhms", 0, 10, "give ohms, for example 0.1; 0 = no shunt, only volts") ?? 0))
        {
            Nominal = Volts("nominalVolts"),
            Low = Volts("lowVolts"),
            Dip = Volts("dipVolts"),
        };
        if (supply is { Nominal: { } nominal, Low: { } low } && low >= nominal)
        {
            throw section.Wrong("lowVolts", "it is not below nominalVolts", "give what the supply may have at least");
        }

        return supply;

        ElectricPotential? Volts(string name) => section.Number(name, 1, most, string.Create(CultureInfo.InvariantCulture, $"give volts, 1 to {most:0}, as far as the part measures")) is double volts ? ElectricPotential.FromVolts(volts) : null;
    }

    private static LineSettings Line(Section section)
    {
        double supply = section.Number("supplyVolts", 2, 5.5, "give volts, 2 to 5.5, that the ADS1115 runs on") ?? throw section.Missing("supplyVolts", "give the volts that the ADS1115 runs on, usually 3.3");
        int rate = (int)(section.Number("samplesPerSecond", 1, 1000, "choose 8, 16, 32 or 64") ?? LineSensor.DefaultRate);
        if (!LineSensor.Rates.Contains(rate))
        {
            throw section.Wrong(
                "samplesPerSecond",
                rate is 128 or 250 or 475 or 860 ? $"a sample would be {1000.0 / rate:0.0} ms long, and what is known of the traffic in it too little: 8 ms are needed" : $"the ADS1115 has no rate of {rate}",
                "choose 8, 16, 32 or 64");
        }

        int high = (int)(section.Number("highInput", 0, 3, "give 0 to 3") ?? 0);
        int low = (int)(section.Number("lowInput", 0, 3, "give 0 to 3") ?? 1);
        if (!LineSensor.CanSubtract(high, low))
        {
            throw section.Wrong("lowInput", $"the ADS1115 can't measure the difference of its inputs {high} and {low}", "use 0 and 1, 0 and 3, 1 and 3, or 2 and 3, CAN_H at the first");
        }

        Divider divider = new(
            ElectricResistance.FromOhms(section.Number("upperOhms", 1, 10_000_000, "give ohms between the line and the input") ?? throw section.Missing("upperOhms", "give the ohms between each line and its input")),
            ElectricResistance.FromOhms(section.Number("lowerOhms", 1, 10_000_000, "give ohms between the input and ground") ?? throw section.Missing("lowerOhms", "give the ohms between each input and ground")),
            section.Number("toleranceRatio", 0, 0.2, "give 0.001 for resistors of 0.1 %") ?? 0.01);
        double worst = section.Number("worstVolts", 5, 60, "give the highest volts that a line can touch, 5 to 60") ?? WorstLineVolts;
        double atInput = worst * divider.HighestRatio;
        if (atInput > supply)
        {
            throw section.Wrong(
                "upperOhms",
                string.Create(CultureInfo.InvariantCulture, $"a line that touches {worst:0.#} V would put {atInput:0.00} V on an input of a part that runs on {supply:0.0#} V, and may destroy it"),
                string.Create(CultureInfo.InvariantCulture, $"use {UpperFor(divider, worst, supply):#,0} Ω or more above {divider.Lower.Ohms:#,0} Ω, or give worstVolts where no line can touch that much"));
        }

        if (LowestLineVolts * divider.HighestRatio < LowestInputVolts)
        {
            throw section.Wrong("upperOhms", string.Create(CultureInfo.InvariantCulture, $"a line at {LowestLineVolts:0} V, which is allowed, would pull an input more than 0.3 V below its ground"), "use more ohms above");
        }

        if (divider.Upper.Ohms + divider.Lower.Ohms < LeastDividerOhms)
        {
            throw section.Wrong("upperOhms", $"the divider would load each line with less than {LeastDividerOhms / 1000:0} kΩ", "use larger resistors in the same ratio");
        }

        return new(section.Address(0x48, 0x4B, 0x48), ElectricPotential.FromVolts(supply), rate, high, low, divider);
    }

    /// <summary>The least resistor above that keeps the input below the supply, in the worst case.</summary>
    private static double UpperFor(Divider divider, double worst, double supply) =>
        Math.Ceiling(divider.Lower.Ohms * (1 + divider.ToleranceRatio) * ((worst / supply) - 1) / (1 - divider.ToleranceRatio));

    private static LightSettings Light(Section section)
    {
        LightSettings light = new(section.Pin("greenPin") ?? -1, section.Pin("redPin") ?? -1);
        return light is { GreenPin: -1, RedPin: -1 } ? throw section.Missing("greenPin", "give the line of at least one diode") : light;
    }

    private static string? Stick(Section section) => section.Text("stick") is not { } path ? null
        : path.StartsWith('/') ? path
        : throw section.Wrong("stick", $"'{path}' is no whole path", "give the directory where the stick is mounted, for example /media/stick");

    private static void RefuseTwice(Section board, BoardSettings settings)
    {
        int?[] addresses = [settings.Supply?.Address, settings.Line?.Address, settings.AirAddress, settings.DisplayAddress];
        if (addresses.OfType<int>().GroupBy(address => address).FirstOrDefault(group => group.Count() > 1) is { } twice)
        {
            throw board.Wrong("i2cBus", string.Create(CultureInfo.InvariantCulture, $"two parts have the address 0x{twice.Key:x2}"), "give one of them another one, by its address pins");
        }

        int?[] pins = [settings.Light?.GreenPin, settings.Light?.RedPin, settings.Button?.Pin];
        if (pins.OfType<int>().Where(pin => pin >= 0).GroupBy(pin => pin).FirstOrDefault(group => group.Count() > 1) is { } shared)
        {
            throw board.Wrong("gpioChip", $"line {shared.Key} is given to two parts", "give each its own");
        }
    }

    /// <summary>An object of the settings, its members known by name.</summary>
    private sealed class Section
    {
        private readonly ConfigurationObject _given;

        public Section(ConfigurationMember given, string[] known)
        {
            _given = given.Object ?? throw given.Wrong("it is no object", "write it as { … }, see the sample settings");
            _given.RefuseUnknown(known);
        }

        public Section? Part(string name, string[] known) => Member(name) is { } member ? new(member, known) : null;

        public string? Text(string name) => Member(name) is not { } member ? null
            : member.Value.ValueKind == JsonValueKind.String ? member.Value.GetString()
            : throw member.Wrong("it is no text", "write it in quotes");

        public bool? Flag(string name) => Member(name) is not { } member ? null
            : member.Value.ValueKind is JsonValueKind.True or JsonValueKind.False ? member.Value.GetBoolean()
            : throw member.Wrong("it is neither true nor false", "write one of them");

        public double? Number(string name, double least, double most, string remedy) => Member(name) is not { } member ? null
            : member.Value.ValueKind != JsonValueKind.Number || !member.Value.TryGetDouble(out double number) ? throw member.Wrong("it is no number", remedy)
            : number >= least && number <= most ? number
            : throw member.Wrong($"{member.Value.GetRawText()} is not within its limits", remedy);

        public int? Pin(string name) => Number(name, 0, 1023, "give the number of a line of the GPIO chip, as gpioinfo lists them") is not double pin ? null
            : pin == Math.Floor(pin) ? (int)pin
            : throw Wrong(name, "it is no whole number", "give the number of a line of the GPIO chip");

        /// <summary>JSON has no hexadecimal numbers, and addresses are printed as such: a text like "0x40", or a number.</summary>
        public int Address(int least, int most, int usual)
        {
            if (Member("address") is not { } member)
            {
                return usual;
            }

            string text = member.Value.ValueKind switch
            {
                JsonValueKind.String => member.Value.GetString()!,
                JsonValueKind.Undefined => "an object",
                _ => member.Value.GetRawText(),
            };
            bool isHexadecimal = text.StartsWith("0x", StringComparison.OrdinalIgnoreCase);
            return int.TryParse(isHexadecimal ? text[2..] : text, isHexadecimal ? NumberStyles.AllowHexSpecifier : NumberStyles.None, CultureInfo.InvariantCulture, out int address) && address >= least && address <= most
                ? address
                : throw member.Wrong($"{SettingException.OneLine(text)} is no address of this part", $"give \"0x{least:x2}\" to \"0x{most:x2}\", as its address pins are wired");
        }

        public SettingException Missing(string name, string remedy) => Wrong(name, "it is missing", remedy);

        /// <summary>At its place; where it isn't written, at the object that it belongs into.</summary>
        public SettingException Wrong(string name, string why, string remedy) =>
            Member(name)?.Wrong(why, remedy) ?? new($"{_given.Name}.{name} (from {_given.Place})", why, remedy);

        private ConfigurationMember? Member(string name) => _given.Members.FirstOrDefault(member => member.Name == name && !member.IsNull);
    }
}
