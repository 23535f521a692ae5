using Diagnostics.Core.AsBuilt;

namespace Diagnostics.Tests.AsBuilt;

/// <summary>Records that use every member, or leave it out, by chance of a seed.</summary>
internal static class RandomRecord
{
    private static readonly string[] Texts = ["workshop buttons", "“Café” <b>&amp;</b> \\ \"'", "Küche, 50 % – 茶室 💡", "", " ", "{0} {{", new string('x', 100), "\u202Eturned"];

    public static AsBuiltRecord Of(int seed)
    {
        Random random = new(seed);
        string? Text() => random.Next(3) == 0 ? null : Texts[random.Next(Texts.Length)];
        T? Maybe<T>(T value)
            where T : struct => random.Next(3) == 0 ? null : value;
        IReadOnlyList<T> List<T>(int most, Func<int, T> make) => [.. Enumerable.Range(1, random.Next(most + 1)).Select(make)];
        SwitchedBy Switcher() => new(random.Next(1, 128), random.Next(1, 2033), random.Next(3) switch { 0 => null, 1 => "short", _ => "long" });
        int[] addresses = [.. Enumerable.Range(1, 127).OrderBy(_ => random.Next()).Take(random.Next(9))];
        return new()
        {
            Site = Text(),
            BitRate = Maybe(random.Next(5_000, 1_000_001)),
            Protocol = Text(),
            Trunk =
            [
                .. List(2, _ => new TrunkEntry(null, 1e-3 + (random.NextDouble() * 99_999), false, Maybe(random.NextDouble() * 10_000))),
                .. addresses.Select(address => new TrunkEntry(address, null, false, Maybe(Math.Round(random.NextDouble() * 50, 1)))),
                .. List(2, _ => new TrunkEntry(null, null, true, Maybe(0.0))),
            ],
            Nodes =
            [
                .. addresses.Select(address => new BuiltNode
                {
                    Address = address,
                    Name = Text(),
                    Type = Text(),
                    Serial = Text(),
                    Firmware = Text(),
                    Inputs = List(4, number => new BuiltInput(number * 100, Text(), (InputKind)random.Next(5))),
                    Outputs = List(4, number => new BuiltOutput(number * 500, Text(), random.Next(3) switch { 0 => null, 1 => "relay", _ => "dimmer" }, List(3, _ => Switcher()))),
                    PdoMapping = List(4, number => $"{(random.Next(2) == 0 ? 'T' : 'R')}PDO{number}").ToDictionary(
                        name => name, _ => List(8, _ => new MappedObject((ushort)random.Next(1, 65_536), (byte)random.Next(255)))),
                }),
            ],
        };
    }
}
