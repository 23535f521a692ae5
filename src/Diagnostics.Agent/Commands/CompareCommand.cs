using Diagnostics.Agent.Pages;
using Diagnostics.Can;
using Diagnostics.Core.Comparison;

namespace Diagnostics.Agent.Commands;

/// <summary>"Is it fixed?": what was found before beside what is found after.</summary>
internal sealed class CompareCommand : ICommand
{
    private static readonly CommandOption At = new("--at", "TIME", "Compare one log, bundle or trace with itself: before and after this moment, as 2026-11-24T14:00 or with a zone.");
    private static readonly CommandOption From = new("--from", "TIME", "With --at, for a log: what lies before this is left out, where the trouble began later.");
    private static readonly CommandOption Until = new("--until", "TIME", "With --at, for a log: what lies behind this is left out.");
    private static readonly CommandOption SameRecorder = new("--same-recorder", null, "Both sides were recorded with the same adapter and settings, so that a trace without error messages had no errors.");
    private static readonly CommandOption Json = SharedOptions.Json with { Help = "Print the comparison document and nothing else." };

    public string Name => "compare";

    public string Words => "BEFORE AFTER | BEFORE-AND-AFTER --at TIME";

    public string Summary => "Is it fixed? Compares two traces, logs (their directories), bundles or saved report documents. Exit code 0: fixed, or no worse and nothing new; 1: anything else, also where it can't be told.";

    public IReadOnlyList<CommandOption> Options { get; } = [At, From, Until, SameRecorder, Json, SharedOptions.BitRate, SharedOptions.Protocol, SharedOptions.Site];

    public Task<int> RunAsync(ParsedArguments arguments, CommandContext context, CancellationToken cancellation)
    {
        Instant? at = Time(At, arguments, context);
        Instant? from = Time(From, arguments, context);
        Instant? until = Time(Until, arguments, context);
        Check(arguments, at, from, until);

        AgentSettings settings = AgentSettingsReader.FromOptions(arguments, context.Environment);
        context.PrintRemarks(settings);
        PeriodReader reader = new(settings, context, cancellation);
        if (at is null && IsOneFile(arguments.Words[0], arguments.Words[1]))
        {
            throw new SettingException(arguments.Words[0], "it is named twice", "name two records, or one with --at TIME");
        }

        (ObservedPeriod before, ObservedPeriod after) = at is { } moment
            ? reader.Halves(arguments.Words[0], moment, from, until)
            : (reader.Whole(arguments.Words[0]), reader.Whole(arguments.Words[1]));
        if (Comparer.Mismatch(before, after) is { } mismatch)
        {
            throw new SettingException(string.Join(" and ", arguments.Words), mismatch, "name two records of one bus, the earlier one first");
        }

        // What one recorder heard before and after a moment was heard alike.
        ComparisonReport comparison = Comparer.Compare(before, after, sameRecorder: at is not null || arguments.Has(SameRecorder.Name));
        if (arguments.Has(Json.Name))
        {
            context.Output.Write(ComparisonJson.ToUtf8(comparison));
            context.Output.Write("\n"u8);
            context.Output.Flush();
        }
        else
        {
            context.Print(ComparisonText.Render(comparison, context.Clock.LocalTimeZone));
        }

        return Task.FromResult(comparison.IsGood() ? CommandLine.Done : CommandLine.JudgedBad);
    }

    private static Instant? Time(CommandOption option, ParsedArguments arguments, CommandContext context) =>
        arguments.Options.TryGetValue(option.Name, out string? text) ? TimeArgument.Read(option.Name, text, context.Clock.LocalTimeZone) : null;

    private static void Check(ParsedArguments arguments, Instant? at, Instant? from, Instant? until)
    {
        int words = at is null ? 2 : 1;
        if (arguments.Words.Count != words)
        {
            throw at is null
                ? new SettingException("BEFORE AFTER", $"{arguments.Words.Count} of the two were named", "name two, or one with --at TIME")
                : new SettingException("--at", $"it cuts one log, bundle or trace in two, and {arguments.Words.Count} were named", "name one, or two without --at");
        }

        if (arguments.Words.Count(word => word == "-") > 1)
        {
            throw new SettingException("-", "standard input is named twice", "name it once");
        }

        if (at is null && (from ?? until) is not null)
        {
            throw new SettingException(from is not null ? From.Name : Until.Name, "it goes with --at only", "name one log and --at TIME");
        }

        if (from >= at || until <= at)
        {
            throw new SettingException(from >= at ? From.Name : Until.Name, $"it isn't {(from >= at ? "before" : "behind")} --at", "give --from, --at and --until in their order");
        }
    }

    private static bool IsOneFile(string a, string b) =>
        a == b || string.Equals(Path.TrimEndingDirectorySeparator(Path.GetFullPath(a)), Path.TrimEndingDirectorySeparator(Path.GetFullPath(b)), StringComparison.Ordinal);
}
