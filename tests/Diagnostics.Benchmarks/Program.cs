using BenchmarkDotNet.Running;
using Diagnostics.Benchmarks.Accuracy;
using Diagnostics.Benchmarks.History;
using Diagnostics.Benchmarks.Live;
using Diagnostics.Benchmarks.Speed;

// The word names the measurement; without one of these words the arguments go to BenchmarkDotNet (try --list flat, or --filter '*').
switch (args.FirstOrDefault())
{
    case "trace":
        return TraceCommand.Run(args[1..]);
    case "live":
        return await LiveCommand.RunAsync(args[1..]).ConfigureAwait(false);
    case SiteTraffic.Word:
        return SiteTraffic.Record(args[1..]);
    case "log":
        return LogCommand.Run();
    case "week":
        return WeekCommand.Run(args[1..]);
    case "time":
        return await TimeCommand.RunAsync().ConfigureAwait(false);
    case "accuracy":
        return AccuracyCommand.Run(args[1..]);
    case "trial":
        return TrialCommand.Run(args[1..]);
    default:
        BenchmarkSwitcher.FromAssembly(typeof(LiveCommand).Assembly).Run(args);
        return 0;
}
