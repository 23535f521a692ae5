namespace Diagnostics.SystemTests.Kernel;

/// <summary>What a run in the guest kernel left behind. <see cref="Output"/> = standard output and error of the commands, in their order.</summary>
public sealed record KernelRun(int ExitCode, string Output, string Console, IReadOnlyDictionary<string, string> Files);
