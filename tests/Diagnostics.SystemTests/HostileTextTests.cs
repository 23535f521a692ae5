using System.Collections.Concurrent;
using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using Diagnostics.Agent.Bundles;
using Diagnostics.Agent.History;
using Diagnostics.Core.Reporting;
using Diagnostics.Tests.Pages;
using Microsoft.Playwright;

namespace Diagnostics.SystemTests;

/// <summary>
/// Script in every text that a person or a file can bring, in the built program and in a real browser. The content policy, which would stop it as a second line, is
/// switched off here: what is asked is whether the page itself writes everything as text.
/// </summary>
public sealed class HostileTextTests(Chromium chromium) : IClassFixture<Chromium>
{
    /// <summary>Runs as a link, in an attribute, as an element, as a script and out of a title; a name has at most 100 characters.</summary>
    private const string Hostile = "javascript:hit=1//'\"><img src=x onerror=hit=2></title><script>hit=3</script><svg onload=hit=4>";

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    [Fact]
    public async Task WhatPeopleWriteIsShownAndRunsNothing()
    {
        Assert.SkipWhen(chromium.Browser is null, $"There is no browser at {Chromium.Path} (package chromium).");
        await using RunningDemo demo = await RunningDemo.StartAsync(Cancellation);
        await demo.HeardAsync(TimeSpan.FromSeconds(30), Cancellation);
        await ImportAsync(demo);
        IReadOnlyList<Uri> pages = await demo.PagesAsync(Hostile, Hostile, Cancellation);
        int shown = await VisitAsync(pages);

        // Everywhere but on the page to sign in, which tells nothing, the form for a file, and where nothing is.
        Assert.InRange(shown, pages.Count - 4, pages.Count);
    }

    /// <summary>A bundle that was made by somebody who means ill: every text of its report, of its record and of its settings.</summary>
    [Fact]
    public async Task WhatABundleHoldsIsShownAndRunsNothing()
    {
        Assert.SkipWhen(chromium.Browser is null, $"There is no browser at {Chromium.Path} (package chromium).");
        await using RunningDemo demo = await RunningDemo.StartAsync(Cancellation);
        string directory = Directory.CreateDirectory(demo.PathOf("forged")).FullName;
        using (StoredHistory.Open(directory, 32L << 20, SampleReports.Start, TimeProvider.System))
        {
        }

        JsonNode report = JsonNode.Parse(ReportJson.ToUtf8(SampleReports.Rich()))!;
        Assert.InRange(Spoil(report), 50, int.MaxValue);
        BundleContent content = KeptLog.ContentOf(directory, withoutInputs: false, TimeProvider.System);
        content = content with
        {
            Documents = new Dictionary<string, byte[]>(content.Documents)
            {
                ["report.json"] = Encoding.UTF8.GetBytes(report.ToJsonString()),
                ["site.json"] = Record(["5", "7", "9"]),
            },
        };
        await using (FileStream file = File.Create(demo.PathOf("forged.zip")))
        {
            await BundleWriter.WriteAsync(file, content, Cancellation);
        }

        Uri bundle = await demo.OpenAsync(demo.PathOf("forged.zip"), Cancellation);
        Uri[] pages = [bundle, new(bundle, "/time?span=day"), new(bundle, "/nodes/can0/7"), new(bundle, "/nodes/can0/5/inputs/3"), new(bundle, "/site"), new(bundle, "/record")];
        Assert.Equal(pages.Length, await VisitAsync(pages));
    }

    /// <summary>Every text but those that the program itself chooses from (the words that it knows, times, identifiers).</summary>
    /// <returns>How many.</returns>
    private static int Spoil(JsonNode node)
    {
        string[] kept = ["kind", "start", "end", "raised", "time", "firstHeard", "lastHeard", "finding", "severity", "interface", "bitRateSource", "protocol", "controllerState", "id", "state", "key", "unit"];
        int spoilt = 0;
        if (node is JsonObject members)
        {
            foreach ((string name, JsonNode? value) in members.ToArray())
            {
                if (value?.GetValueKind() == JsonValueKind.String)
                {
                    bool isChosen = kept.Contains(name);
                    members[name] = isChosen ? value.GetValue<string>() : Hostile;
                    spoilt += isChosen ? 0 : 1;
                }
                else if (value is not null)
                {
                    spoilt += Spoil(value);
                }
            }
        }
        else if (node is JsonArray items)
        {
            spoilt += items.Sum(item => item is JsonObject or JsonArray ? Spoil(item) : 0);
        }

        return spoilt;
    }

    private static byte[] Record(IEnumerable<string> addresses)
    {
        string hostile = JsonSerializer.Serialize(Hostile);
        string points = string.Join(", ", Enumerable.Range(1, 4).Select(number => $$"""{ "NUMBER": {{number}}, "name": {{hostile}} }"""));
        string nodes = string.Join(", ", addresses.Select(address =>
            $$"""{ "address": {{address}}, "name": {{hostile}}, "type": {{hostile}}, "serial": {{hostile}}, "firmware": {{hostile}}, "inputs": [ {{points.Replace("NUMBER", "input", StringComparison.Ordinal)}} ], "outputs": [ {{points.Replace("NUMBER", "output", StringComparison.Ordinal)}} ] }"""));
        return Encoding.UTF8.GetBytes($$"""{ "schema": 1, "site": {{hostile}}, "trunk": [ { "node": 5 }, { "clip": true }, { "node": 7 } ], "nodes": [ {{nodes}} ] }""");
    }

    private static async Task ImportAsync(RunningDemo demo)
    {
        using HttpClient client = new();
        string form = await client.GetStringAsync(new Uri(demo.Near, "/site/import"), Cancellation);
        string token = System.Text.RegularExpressions.Regex.Match(form, "name=\"version\" value=\"([^\"]*)\"").Groups[1].Value;
        string text = Encoding.UTF8.GetString(Record(Enumerable.Range(1, 14).Select(address => address.ToString(System.Globalization.CultureInfo.InvariantCulture))));
        await demo.PostAsync("/site/import", $"version={Uri.EscapeDataString(token)}&text={Uri.EscapeDataString(text)}", Cancellation);
    }

    /// <summary>On each page nothing runs, no element came from a text, and no link leads to a script.</summary>
    /// <returns>On how many pages the text stands literally.</returns>
    private async Task<int> VisitAsync(IReadOnlyList<Uri> pages)
    {
        await using IBrowserContext context = await chromium.Browser!.NewContextAsync(new() { BypassCSP = true });
        IPage page = await context.NewPageAsync();
        ConcurrentQueue<string> requests = [];
        page.Request += (_, request) => requests.Enqueue(request.Url);
        page.Dialog += (_, dialog) => Assert.Fail(dialog.Message);

        // The control: what is looked for below is seen where it happens.
        await page.SetContentAsync("<body><img src=x onerror=hit=2>");
        await page.WaitForFunctionAsync("window.hit === 2");
        int shown = 0;
        foreach (Uri address in pages)
        {
            requests.Clear();
            await page.GotoAsync(address.AbsoluteUri);
            await page.EvaluateAsync("document.querySelectorAll('details').forEach(each => each.open = true)");
            string found = await page.EvaluateAsync<string>("""
                () => [
                  ...(window.hit === undefined ? [] : ["ran: " + window.hit]),
                  ...[...document.querySelectorAll("img, script:not([src^='/assets/']), iframe, object, embed, base")].map((e) => e.outerHTML.slice(0, 100)),
                  ...[...document.querySelectorAll("*")].flatMap((e) => [...e.attributes].filter((a) => /^on/i.test(a.name) || (/^(href|src|action|formaction)$/i.test(a.name) && /^\s*javascript:/i.test(a.value))).map((a) => e.tagName + " " + a.name + "=" + a.value)),
                ].join("\n")
                """);
            Assert.True(found.Length == 0, $"{address}: {found}");
            string own = address.GetLeftPart(UriPartial.Authority) + "/";
            Assert.All(requests, request => Assert.True(request.StartsWith("data:", StringComparison.Ordinal) || request.StartsWith(own, StringComparison.Ordinal), request));
            bool isShown = await page.EvaluateAsync<bool>("hostile => document.documentElement.textContent.includes(hostile) || [...document.querySelectorAll('input, textarea')].some((field) => field.value.includes(hostile))", Hostile);
            shown += isShown ? 1 : 0;
        }

        return shown;
    }
}
