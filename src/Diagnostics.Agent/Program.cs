using System.Collections;
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
        Environment = Environment.GetEnvironmentVariables().Cast<DictionaryEntry>().ToDictionary(variable => (string)variable.Key, variable => (string?)variable.Value ?? string.Empty, StringComparer.Ordinal),
        Sources = RealSources.Create(),
        AskHidden = Console.IsInputRedirected ? null : HiddenLine.Ask,
    },
    CancellationToken.None).ConfigureAwait(false);
