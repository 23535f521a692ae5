using Diagnostics.Core.Wording;
using System.Globalization;
using System.Text.Json;
using Diagnostics.Agent.Access;
using Diagnostics.Agent.Boards;
using Diagnostics.Agent.Commands;
using Diagnostics.Agent.Languages;
using Diagnostics.Can.Traces;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Protocols.CanOpen;

namespace Diagnostics.Agent;

/// <summary>
/// Settings come from a file, the environment and the options, the later winning. Each value that is used is checked here, at start,
/// and what is wrong is told with the setting, where it came from and what to do.
/// </summary>
internal sealed class AgentSettingsReader
{
    public const string DefaultPath = "/etc/diagnostics/agent.json";
    public const string PathVariable = "DIAGNOSTICS_SETTINGS";
    private const string VariablePrefix = "DIAGNOSTICS_";
    private const string SchemaName = "schema";
    private const string DefaultLogDirectory = "/var/lib/diagnostics";

    /// <summary>IFNAMSIZ of linux/if.h is 16, the closing zero included.</summary>
    private const int LongestInterfaceName = 15;

    /// <summary>As the browser asks.</summary>
    public const string AutomaticLanguage = "auto";

    private static readonly string[] Protocols = ["auto", "canopen", "none"];

    /// <summary>Name in the file, name in the environment, option.</summary>
    private static readonly (string Name, string Variable, string? Option)[] Known =
    [
        ("interfaces", "DIAGNOSTICS_INTERFACES", null),
        ("bitRate", "DIAGNOSTICS_BIT_RATE", "--bit-rate"),
        ("protocol", "DIAGNOSTICS_PROTOCOL", "--protocol"),
        ("site", "DIAGNOSTICS_SITE", "--site"),
        ("port", "DIAGNOSTICS_PORT", "--port"),
        ("listenOn", "DIAGNOSTICS_LISTEN_ON", "--listen-on"),
        ("certificate", "DIAGNOSTICS_CERTIFICATE", "--certificate"),
        ("certificateKey", "DIAGNOSTICS_CERTIFICATE_KEY", "--certificate-key"),
        ("passcodeFile", "DIAGNOSTICS_PASSCODE_FILE", null),
        ("name", "DIAGNOSTICS_NAME", null),
        ("announce", "DIAGNOSTICS_ANNOUNCE", null),
        ("log", "DIAGNOSTICS_LOG", "--log"),
        ("logMegabytes", "DIAGNOSTICS_LOG_MEGABYTES", null),
        ("inputDays", "DIAGNOSTICS_INPUT_DAYS", null),
        ("language", "DIAGNOSTICS_LANGUAGE", "--language"),
    ];

    private readonly Dictionary<string, Given> _given = new(StringComparer.Ordinal);
    private readonly IReadOnlyDictionary<string, string> _environment;
    private BoardSettings _board = new();

    private AgentSettingsReader(IReadOnlyDictionary<string, string> environment) => _environment = environment;

    /// <summary>One value as it was given, and by what.</summary>
    private readonly record struct Given(string Text, string Source);

    /// <summary>What the bytes mean, by name, with the data sheets that say how devices are built.</summary>
    private readonly record struct Meaning(string Protocol, IReadOnlyList<DataSheet> Sheets, IReadOnlyList<Sentence> Remarks);

    /// <summary>
    /// A variable that begins as ours do and means nothing is refused as a name in the file is, also by a command that reads no variables: what it was to set
    /// would not hold, and nobody would be told. An empty one sets nothing.
    /// </summary>
    /// <exception cref="SettingException">There is one.</exception>
    public static void RefuseUnknownVariables(IReadOnlyDictionary<string, string> environment)
    {
        string[] variables = [PathVariable, .. Known.Select(known => known.Variable)];
        if (environment.Keys.Where(IsSlip).Order(StringComparer.Ordinal).FirstOrDefault() is { } slip)
        {
            string? nearest = Nearest.Of(slip[VariablePrefix.Length..], variables.Select(variable => variable[VariablePrefix.Length..]));
            throw new SettingException(
                $"environment variable {slip}",
                "there is no such setting",
                nearest is null ? $"remove it, or name one of {string.Join(", ", variables)}" : $"the nearest one is {VariablePrefix}{nearest}");
        }

        bool IsSlip(string name) => name.StartsWith(VariablePrefix, StringComparison.Ordinal) && environment[name].Length > 0 && !variables.Contains(name);
    }

    /// <summary>The settings of a service: file, environment, options. <paramref name="arguments"/>' words are interfaces.</summary>
    /// <exception cref="SettingException">Something given can't be used.</exception>
    public static AgentSettings ForService(ParsedArguments arguments, IReadOnlyDictionary<string, string> environment)
    {
        AgentSettingsReader reader = Read(arguments, environment);
        if (arguments.Words.Count > 0)
        {
            reader._given["interfaces"] = new(string.Join(',', arguments.Words), "the command line");
        }

        return reader.Check(keepsLog: true);
    }

    /// <summary>
    /// The settings of the demo and of a mark: of what the board is set to only the port of the page and the file of its passcode, so that the demo never writes
    /// into the service's log nor opens itself to a network because the service is.
    /// </summary>
    /// <exception cref="SettingException">Something given can't be used.</exception>
    public static AgentSettings WithPortOnly(ParsedArguments arguments, IReadOnlyDictionary<string, string> environment)
    {
        AgentSettingsReader reader = new(environment);
        reader.ReadFile();
        reader.ReadEnvironment();
        foreach (string name in reader._given.Keys.Where(name => name is not ("port" or "passcodeFile")).ToArray())
        {
            reader._given.Remove(name);
        }

        reader._board = new() { Temperature = false };
        reader.ReadOptions(arguments);
        return reader.Check(keepsLog: false);
    }

    /// <summary>The settings of a command that looks at no board: options only, and no log unless asked.</summary>
    /// <exception cref="SettingException">Something given can't be used.</exception>
    public static AgentSettings FromOptions(ParsedArguments arguments, IReadOnlyDictionary<string, string> environment)
    {
        AgentSettingsReader reader = new(environment);
        reader.ReadOptions(arguments);
        return reader.Check(keepsLog: false);
    }

    /// <summary>
    /// Where the service of this board keeps its log, and the port of its page. Nothing is made there and nothing tried, and what else is set doesn't matter.
    /// </summary>
    /// <returns>The directory, whether anybody named it, and the port.</returns>
    /// <exception cref="SettingException">Something given can't be used.</exception>
    public static (string Log, bool IsNamed, int Port) OfRunningService(ParsedArguments arguments, IReadOnlyDictionary<string, string> environment)
    {
        AgentSettingsReader reader = Read(arguments, environment);
        bool isNamed = reader._given.TryGetValue("log", out Given given);
        return (isNamed ? given.Text : reader.DefaultLog(), isNamed, reader.Port());
    }

    /// <summary>The port of the service's page, and the language to ask it in; what else is set doesn't matter.</summary>
    /// <exception cref="SettingException">Something given can't be used.</exception>
    public static (int Port, Language? Language) OfPage(ParsedArguments arguments, IReadOnlyDictionary<string, string> environment)
    {
        AgentSettingsReader reader = Read(arguments, environment);
        return (reader.Port(), reader.Language());
    }

    /// <summary>What is fitted to this board, the port of its page, and the language; what else is set doesn't matter.</summary>
    /// <exception cref="SettingException">Something given can't be used.</exception>
    public static (BoardSettings Board, int Port, Language? Language) OfBoard(ParsedArguments arguments, IReadOnlyDictionary<string, string> environment)
    {
        AgentSettingsReader reader = Read(arguments, environment);
        return (reader._board, reader.Port(), reader.Language());
    }

    private static AgentSettingsReader Read(ParsedArguments arguments, IReadOnlyDictionary<string, string> environment)
    {
        AgentSettingsReader reader = new(environment);
        reader.ReadFile();
        reader.ReadEnvironment();
        reader.ReadOptions(arguments);
        return reader;
    }

    private void ReadFile()
    {
        string? redirected = _environment.GetValueOrDefault(PathVariable);
        string path = redirected ?? DefaultPath;
        if (redirected is null && !File.Exists(path))
        {
            return;
        }

        string which = redirected is null ? path : $"{path} (named by {PathVariable})";
        ConfigurationObject file = ConfigurationFile.ReadObject(path, which);
        file.RefuseUnknown([.. Known.Select(known => known.Name), BoardSettingsReader.Name, SchemaName]);
        foreach (ConfigurationMember member in file.Members)
        {
            switch (member.Name)
            {
                case SchemaName when member.Value.ValueKind != JsonValueKind.Number || !member.Value.TryGetInt32(out int schema) || schema != 1:
                    throw member.Wrong("this program reads schema 1", "set it to 1, or install the program that belongs to the file");
                case SchemaName:
                    break;
                case BoardSettingsReader.Name:
                    _board = member.IsNull ? _board : BoardSettingsReader.Read(member);
                    break;
                default:
                    if (TextOf(member) is { } text)
                    {
                        _given[member.Name] = new(text, member.Place);
                    }

                    break;
            }
        }
    }

    /// <summary>As it would be written in the environment; null = not set.</summary>
    private static string? TextOf(ConfigurationMember member) => member.Value.ValueKind switch
    {
        JsonValueKind.Null => null,
        JsonValueKind.String => member.Value.GetString(),
        JsonValueKind.Number or JsonValueKind.True or JsonValueKind.False => member.Value.GetRawText(),
        JsonValueKind.Array when member.Value.EnumerateArray().All(item => item.ValueKind == JsonValueKind.String) =>
            string.Join(',', member.Value.EnumerateArray().Select(item => item.GetString())),
        JsonValueKind.Array => throw member.Wrong("a list of something else than texts stands where a text or a number belongs", "see the sample settings"),
        _ => throw member.Wrong("an object stands where a text or a number belongs", "see the sample settings"),
    };

    private void ReadEnvironment()
    {
        foreach ((string name, string variable, _) in Known)
        {
            if (_environment.GetValueOrDefault(variable) is { Length: > 0 } text)
            {
                _given[name] = new(text, $"the environment variable {variable}");
            }
        }
    }

    private void ReadOptions(ParsedArguments arguments)
    {
        foreach ((string name, _, string? option) in Known)
        {
            if (option is not null && arguments.Options.TryGetValue(option, out string? text))
            {
                _given[name] = new(text, $"the option {option}");
            }
        }
    }

    private AgentSettings Check(bool keepsLog)
    {
        (string? logDirectory, _) = LogDirectory(keepsLog);
        (AsBuiltRecord? site, IReadOnlyList<Sentence> siteRemarks, byte[]? siteText) = Site();
        Meaning meaning = Protocol(site);
        return new()
        {
            Interfaces = Interfaces(),
            BitRate = Number("bitRate", TraceLimits.SlowestBitRate, TraceLimits.FastestBitRate, $"give bit/s, {TraceLimits.SlowestBitRate} to {TraceLimits.FastestBitRate}, for example 125000"),
            Protocol = meaning.Protocol,
            DataSheets = meaning.Sheets,
            Site = site,
            SiteText = siteText,
            FileRemarks = [.. siteRemarks, .. meaning.Remarks],
            Port = Port(),
            Access = Access(),
            Language = Language(),
            Board = _board,
            LogDirectory = logDirectory,
            LogMegabytes = Number(
                "logMegabytes",
                Limits.MinimumLogMegabytes,
                Limits.MaximumLogMegabytes,
                $"give megabytes, {Limits.MinimumLogMegabytes} to {Limits.MaximumLogMegabytes}") ?? Limits.DefaultLogMegabytes,
            InputDays = Number("inputDays", 0, Limits.MaximumInputDays, $"give days, 0 (none are kept) to {Limits.MaximumInputDays}") ?? new AgentSettings().InputDays,
        };
    }

    private int Port() => Number("port", 0, 65_535, "give a TCP port, 1 to 65535, or 0 for any free one") ?? AgentSettings.DefaultPort;

    private AccessSettings Access() => AccessSettingsReader.Read(Named);

    private (string Text, string Which)? Named(string name) => _given.TryGetValue(name, out Given given) ? (given.Text, $"{name} (from {given.Source})") : null;

    /// <summary>Where the passcode is kept, and the name of the board; what else is set doesn't matter.</summary>
    /// <exception cref="SettingException">Something given can't be used.</exception>
    public static AccessSettings OfPasscode(IReadOnlyDictionary<string, string> environment)
    {
        AgentSettingsReader reader = new(environment);
        reader.ReadFile();
        reader.ReadEnvironment();
        return AccessSettingsReader.Read(name => name is "passcodeFile" or "name" ? reader.Named(name) : null);
    }

    private Language? Language() => !_given.TryGetValue("language", out Given given) || given.Text.Equals(AutomaticLanguage, StringComparison.OrdinalIgnoreCase)
        ? null
        : Languages.Language.Find(given.Text)
            ?? throw Wrong("language", given, $"'{given.Text}' is no language that this program speaks", $"choose {AutomaticLanguage}, {string.Join(", ", Languages.Language.All.Select(language => language.Code))}");

    /// <summary>systemd names the directory that StateDirectory= made; with several, separated by colons, ours is the first.</summary>
    private string DefaultLog() => _environment.GetValueOrDefault("STATE_DIRECTORY")?.Split(':')[0] is { Length: > 0 } state ? state : DefaultLogDirectory;

    private string[] Interfaces()
    {
        if (!_given.TryGetValue("interfaces", out Given given))
        {
            return [];
        }

        string[] names = given.Text.Split([',', ' '], StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries);
        foreach (string name in names)
        {
            if (name.Length > LongestInterfaceName || name is "." or ".." || name.Any(character => character is '/' or ':' || char.IsWhiteSpace(character) || char.IsControl(character)))
            {
                throw Wrong("interfaces", given, $"'{name}' can't be the name of an interface", "give names as 'ip link' lists them, for example can0");
            }
        }

        return names.Distinct(StringComparer.Ordinal).ToArray();
    }

    private int? Number(string name, int least, int most, string remedy)
    {
        if (!_given.TryGetValue(name, out Given given))
        {
            return null;
        }

        if (int.TryParse(given.Text, NumberStyles.None, CultureInfo.InvariantCulture, out int number) && number >= least && number <= most)
        {
            return number;
        }

        bool isNegative = given.Text.StartsWith('-');
        bool isNumber = given.Text.Length > (isNegative ? 1 : 0) && given.Text.Skip(isNegative ? 1 : 0).All(char.IsAsciiDigit);
        string why = !isNumber ? $"'{given.Text}' is no whole number" : isNegative ? $"{given.Text} is negative, which it must not be" : $"{given.Text} is not within its limits";
        throw Wrong(name, given, why, remedy);
    }

    /// <summary>As given; where that leaves it open, as the as-built record says, which may name data sheets beside itself.</summary>
    private Meaning Protocol(AsBuiltRecord? site)
    {
        Meaning given = _given.TryGetValue("protocol", out Given asked) ? MeaningOf(asked.Text, $"protocol (from {asked.Source})", string.Empty) : new("auto", [], []);
        return given.Protocol == "auto" && site?.Protocol is { } recorded
            ? MeaningOf(recorded, $"protocol in the as-built record '{_given["site"].Text}'", Path.GetDirectoryName(_given["site"].Text) ?? string.Empty)
            : given;
    }

    /// <param name="text">One name, or files and directories separated by commas.</param>
    /// <param name="which">How messages name the setting.</param>
    /// <param name="directory">What relative paths begin at; empty = where the program runs.</param>
    private static Meaning MeaningOf(string text, string which, string directory)
    {
        if (NameIn(text) is { } name)
        {
            return new(name, [], []);
        }

        // A comma may also stand in the name of a file.
        string[] parts = IsThere(text) ? [text] : text.Split(',', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries);
        if (parts.FirstOrDefault(part => NameIn(part) is not null) is { } beside)
        {
            throw new SettingException(which, $"'{beside}' is given beside something else", "give one name, or data sheets only, as these mean canopen");
        }

        if ((parts.Length == 0 ? text : parts.FirstOrDefault(part => !IsThere(part) && part.IndexOfAny(['/', '.']) < 0)) is { } word)
        {
            string? nearest = Nearest.Of(word, Protocols);
            throw new SettingException(
                which,
                $"'{word}' is no protocol that this program knows, and no file",
                $"choose {string.Join(", ", Protocols)}{(nearest is null ? string.Empty : $" (nearest: {nearest})")}, or name data sheets (EDS, DCF)");
        }

        (IReadOnlyList<DataSheet> sheets, IReadOnlyList<Sentence> remarks) = DataSheetFiles.Read(parts.Select(part => Path.Combine(directory, part)), which);
        return new("canopen", sheets, remarks);

        bool IsThere(string path) => Path.Exists(Path.Combine(directory, path));
    }

    private static string? NameIn(string text) => Protocols.FirstOrDefault(protocol => protocol.Equals(text.Trim(), StringComparison.OrdinalIgnoreCase));

    private (AsBuiltRecord? Record, IReadOnlyList<Sentence> Remarks, byte[]? Text) Site() =>
        _given.TryGetValue("site", out Given given) ? AsBuiltFile.Read(given.Text, $"site (from {given.Source})") : (null, [], null);

    /// <summary>A directory that was asked for must work; the default one may fail, and then the analysis runs without a log and says so.</summary>
    private (string? Path, bool Asked) LogDirectory(bool keepsLog)
    {
        if (!_given.TryGetValue("log", out Given given))
        {
            return (keepsLog ? DefaultLog() : null, false);
        }

        try
        {
            string path = Path.GetFullPath(given.Text);
            Directory.CreateDirectory(path);
            string probe = Path.Combine(path, ".write-check");
            File.WriteAllBytes(probe, []);
            File.Delete(probe);
            return (path, true);
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            throw Wrong("log", given, $"nothing can be written in '{given.Text}' ({problem.Message.TrimEnd('.')})", "name a directory that this user may write in");
        }
    }

    private static SettingException Wrong(string name, Given given, string why, string remedy) => new($"{name} (from {given.Source})", why, remedy);
}
