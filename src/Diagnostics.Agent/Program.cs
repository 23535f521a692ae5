using Diagnostics.Agent.Commands;

await using Stream output = Console.OpenStandardOutput();
await using Stream error = Console.OpenStandardError();
return await CommandLine.RunAsync(
    args,
    new()
    {
        Input = Console.OpenStandardInput(),
        Output = output,
        Error = error,
        Environment = Environment.GetEnvironmentVariable,
        Sources = RealSources.Create(),
        AskHidden = Console.IsInputRedirected ? null : HiddenLine.Ask,
    },
    CancellationToken.None).ConfigureAwait(false);
