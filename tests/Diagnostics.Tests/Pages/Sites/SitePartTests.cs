using System.Net;
using System.Text;
using System.Text.RegularExpressions;
using Diagnostics.Agent;
using Diagnostics.Agent.Pages;
using Diagnostics.Agent.Records;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Tests.History.Store;
using Microsoft.Extensions.Logging.Abstractions;

namespace Diagnostics.Tests.Pages.Sites;

public sealed class SitePartTests : IAsyncLifetime
{
    private readonly AgentState _state = new() { KeepsLog = true, Report = SampleReports.Rich() };
    private readonly RecordedDisk _disk = new();
    private readonly RecordBook _book;
    private readonly PageService _service;
    private readonly TaskCompletionSource<string> _address = new(TaskCreationOptions.RunContinuationsAsynchronously);
    private readonly HttpClient _client = new(new HttpClientHandler { AllowAutoRedirect = false });

    public SitePartTests()
    {
        _book = new(null, null, _ => _disk, TimeProvider.System, held => _state.UseRecord(held.Record));
        _service = new(0, new(_state, TimeProvider.System) { Records = _book }, address => _address.TrySetResult(address), NullLogger<PageService>.Instance);
    }

    private string Own => _client.BaseAddress!.GetLeftPart(UriPartial.Authority);

    public async ValueTask InitializeAsync()
    {
        await _service.StartAsync(TestContext.Current.CancellationToken);
        _client.BaseAddress = new(await _address.Task);
    }

    public async ValueTask DisposeAsync()
    {
        _client.Dispose();
        await _service.StopAsync(CancellationToken.None);
        _service.Dispose();
    }

    [Fact]
    public async Task ANodeIsNamedAndTheAnalysisIsToldToUseTheName()
    {
        (HttpStatusCode status, _) = await PostAsync(
            "/site/nodes/5",
            ("name", "workshop buttons"),
            ("input-0", "3"), ("input-name-0", "door, upper"), ("input-kind-0", "contact"),
            ("output-0", "2"), ("output-name-0", "bench lights"), ("output-kind-0", "relay"), ("by-0-0", "7.4"), ("press-0-0", "long"));
        Assert.Equal(HttpStatusCode.SeeOther, status);
        BuiltNode node = Assert.Single(_book.Held.Record!.Nodes);
        Assert.Equal(("workshop buttons", new BuiltInput(3, "door, upper", InputKind.Contact)), (node.Name, Assert.Single(node.Inputs)));
        Assert.Equal(new SwitchedBy(7, 4, "long"), Assert.Single(Assert.Single(node.Outputs).SwitchedBy));
        Assert.True(_state.TryTakeNames(out AsBuiltRecord? told));
        Assert.Equal("workshop buttons", told!.Nodes[0].Name);
        Assert.False(_state.TryTakeNames(out _));
        Assert.Contains("workshop buttons", (await GetAsync("/site")).Text, StringComparison.Ordinal);
        Assert.Contains("value=\"door, upper\"", (await GetAsync("/site/nodes/5")).Text, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("input-0", "0", "“0”")]
    [InlineData("output-0", "2033", "“2033”")]
    [InlineData("input-0", "-5", "The number of an input must not be negative, as “-5” is: they are counted from 1 to 2032.")]
    [InlineData("output-0", "\u22125", "The number of an output must not be negative, as “\u22125” is: they are counted from 1 to 2032.")]
    [InlineData("by-0-0", "door", "“door”")]
    [InlineData("name", "two\u0001parts", "“Name” has a control character in it")]
    [InlineData("serial", "two\u0001parts", "“Serial number” has a control character in it")]
    [InlineData("input-name-0", "two\u0001parts", "“Name of input 1” has a control character in it")]
    [InlineData("output-name-0", "two\tparts", "“Name of output 1” has a control character in it")]
    public async Task WhatIsWrongIsToldAndWhatWasWrittenStaysInTheForm(string field, string value, string told)
    {
        (HttpStatusCode status, string page) = await PostAsync(
            "/site/nodes/5", [.. new[] { ("type", "kept 50 % <b>"), ("input-0", "1"), ("input-name-0", "x"), ("output-0", "1"), ("output-name-0", "y"), ("by-0-0", "1.1") }.Where(known => known.Item1 != field), (field, value)]);
        Assert.Equal(HttpStatusCode.BadRequest, status);
        Assert.DoesNotContain("$.", page, StringComparison.Ordinal);
        Assert.Contains(told, page, StringComparison.Ordinal);
        Assert.Contains("value=\"kept 50 % &lt;b&gt;\"", page, StringComparison.Ordinal);
        Assert.Empty(_book.Versions);
    }

    [Fact]
    public async Task TheCableIsPutInOrderByButtonsAndSavedOnce()
    {
        (HttpStatusCode status, string page) = await PostAsync("/site/cable", ("what-0", "5"), ("what-1", "7"), ("metres-1", "2,5"), ("do", "down-0"));
        Assert.Equal(HttpStatusCode.OK, status);
        Assert.Empty(_book.Versions);
        Assert.Matches("name=\"what-0\" value=\"7\"[^$]*name=\"what-1\" value=\"5\"", page);
        Assert.Single(Regex.Matches(page, " autofocus>"));
        Assert.Equal(HttpStatusCode.SeeOther, (await PostAsync("/site/cable", ("site", "Wrenfield"), ("begin", "120"), ("what-0", "7"), ("what-1", "5"), ("metres-1", "2,5"), ("end", "120"))).Status);
        Assert.Equal([new(null, 120, false, null), new(7, null, false, null), new(5, null, false, 2.5), new(null, 120, false, null)], _book.Held.Record!.Trunk);

        // What lies on the cable belongs into the record.
        Assert.Equal([5, 7], _book.Held.Record.Nodes.Select(node => node.Address));
        Assert.Equal(HttpStatusCode.BadRequest, (await PostAsync("/site/cable", ("begin", "none"))).Status);
        Assert.Single(_book.Versions);
    }

    [Fact]
    public async Task WhoWasOvertakenIsToldAndLosesNothing()
    {
        string seen = _book.Held.Token;
        Assert.Equal(HttpStatusCode.SeeOther, (await PostAsync("/site/nodes/5", ("name", "first"))).Status);
        (HttpStatusCode status, string page) = await PostAsync("/site/nodes/5", ("version", seen), ("name", "second"));
        Assert.Equal(HttpStatusCode.Conflict, status);
        Assert.Contains("value=\"second\"", page, StringComparison.Ordinal);
        Assert.Contains("“first”", page, StringComparison.Ordinal);
        Assert.Equal("first", _book.Held.Record!.Nodes[0].Name);
        string fresh = Regex.Match(page, "name=\"version\" value=\"([^\"]+)\"").Groups[1].Value;
        Assert.Equal(HttpStatusCode.SeeOther, (await PostAsync("/site/nodes/5", ("version", fresh), ("name", "second"))).Status);
        Assert.Equal(HttpStatusCode.Conflict, (await PostAsync("/site/cable", ("version", seen), ("site", "late"))).Status);
        Assert.Equal(HttpStatusCode.Conflict, (await PostAsync("/site/import", ("version", seen), ("text", "{\"schema\":1}"))).Status);
        Assert.Equal(HttpStatusCode.Conflict, (await PostAsync("/site/again", ("version", seen), ("number", "1"))).Status);
        Assert.Equal("second", _book.Held.Record.Nodes[0].Name);
    }

    [Fact]
    public async Task WhatWasHeardIsTakenIntoTheRecordAndAnEarlierVersionIsUsedAgain()
    {
        Assert.Equal(HttpStatusCode.SeeOther, (await PostAsync("/site/nodes/5", ("name", "workshop buttons"))).Status);
        Assert.Equal(HttpStatusCode.SeeOther, (await PostAsync("/site/take")).Status);
        Assert.True(_book.Held.Record!.Nodes.Count > 1);
        Assert.Equal("workshop buttons", _book.Held.Record.Nodes.First(node => node.Address == 5).Name);
        Assert.Equal(HttpStatusCode.SeeOther, (await PostAsync("/site/again", ("number", "1"))).Status);
        Assert.Single(_book.Held.Record.Nodes);
        Assert.Equal(RecordOrigin.Again, _book.Versions[^1].Origin);
        Assert.Equal(HttpStatusCode.Conflict, (await PostAsync("/site/again", ("number", "99"))).Status);
        Assert.Equal(HttpStatusCode.SeeOther, (await PostAsync("/site/nodes/5", ("do", "remove"))).Status);
        Assert.Empty(_book.Held.Record.Nodes);
    }

    [Theory]
    [InlineData("/site/cable")]
    [InlineData("/site/nodes/5")]
    [InlineData("/site/import")]
    [InlineData("/site/take")]
    [InlineData("/site/again")]
    public async Task AForgedFormIsRefusedBeforeItIsRead(string path)
    {
        foreach (string? origin in new[] { null, "null", "http://library.example" })
        {
            using ByteArrayContent form = new(new byte[Limits.RecordForm / 2]);
            form.Headers.ContentType = new("application/x-www-form-urlencoded");
            Assert.Equal(HttpStatusCode.Forbidden, (await SendAsync(path, origin, form)).Status);
        }

        Assert.Empty(_book.Versions);
    }

    [Fact]
    public async Task WhatIsTooLongIsRefusedAndOnlyTheseAddressesTakeLongForms()
    {
        string site = new('x', 90_000);
        (HttpStatusCode status, string page) = await PostAsync("/site/cable", ("site", site));
        Assert.Equal(HttpStatusCode.BadRequest, status);
        Assert.Contains("“Name of the site” has 90000 characters: shorten it to 100.", page, StringComparison.Ordinal);
        Assert.Contains((await PostAsync("/mark", ("note", site))).Status, new[] { HttpStatusCode.BadRequest, HttpStatusCode.RequestEntityTooLarge });
        Assert.Contains((await PostAsync("/site/take", ("note", site))).Status, new[] { HttpStatusCode.BadRequest, HttpStatusCode.RequestEntityTooLarge });
        using ByteArrayContent tooLong = new(new byte[Limits.RecordForm + 1]);
        tooLong.Headers.ContentType = new("application/x-www-form-urlencoded");
        Assert.Equal(HttpStatusCode.RequestEntityTooLarge, (await SendAsync("/site/cable", Own, tooLong)).Status);
        (string, string)[] many = [.. Enumerable.Range(0, Limits.RecordFormFields + 1).Select(number => ($"f{number}", ""))];
        Assert.Equal(HttpStatusCode.BadRequest, (await PostAsync("/site/cable", many)).Status);
        Assert.Empty(_book.Versions);
    }

    [Fact]
    public async Task AnImportThatIsWrongIsToldWithItsPlaceAndChangesNothing()
    {
        (HttpStatusCode status, string page) = await PostAsync("/site/import", ("text", "{ \"schema\": 1,\r\n  \"bitRate\": \"fast</textarea><script>\" }"));
        Assert.Equal(HttpStatusCode.BadRequest, status);
        Assert.Contains("Line 2, column 14", page, StringComparison.Ordinal);
        Assert.DoesNotContain("<script>", page, StringComparison.Ordinal);
        Assert.Contains("&quot;schema&quot;: 1", page, StringComparison.Ordinal);
        Assert.Equal(HttpStatusCode.BadRequest, (await PostAsync("/site/import", ("text", "{\"schema\":1,\"protocol\":\"/etc/modules.eds\"}"))).Status);
        Assert.Empty(_book.Versions);
        Assert.Null(_book.Held.Record);
    }

    [Theory]
    [InlineData(false, "", "No file was chosen and no text entered")]
    [InlineData(false, " \r\n", "No file was chosen and no text entered")]
    [InlineData(true, "", "The file that was chosen is empty")]
    [InlineData(true, " \n", "The file that was chosen is empty")]
    public async Task AnImportOfNothingIsToldAsSuch(bool isFile, string content, string told)
    {
        using MultipartFormDataContent form = new();
        form.Add(new StringContent(_book.Held.Token), "version");
        form.Add(new StringContent(isFile ? string.Empty : content), "text");
        using ByteArrayContent file = new(Encoding.UTF8.GetBytes(isFile ? content : string.Empty));

        // Where nothing was chosen a browser sends a part without content and with an empty name (HTML standard, multipart form data).
        file.Headers.TryAddWithoutValidation("Content-Disposition", isFile ? "form-data; name=\"file\"; filename=\"site.json\"" : "form-data; name=\"file\"; filename=\"\"");
        form.Add(file);
        (HttpStatusCode status, string page) = await SendAsync("/site/import", Own, form);
        Assert.Equal(HttpStatusCode.BadRequest, status);
        Assert.Contains(told, page, StringComparison.Ordinal);
        Assert.DoesNotContain("JSON", Regex.Match(page, "role=\"alert\">([^<]+)<").Value, StringComparison.Ordinal);
        Assert.Empty(_book.Versions);
    }

    [Fact]
    public async Task WhatAnImportedRecordHoldsBesidesIsNamedAndKeptUntilThePageWritesTheRecord()
    {
        const string Text = "{\"schema\":1,\"site\":\"x\",\"extra\":5,\"nodes\":[{\"address\":4,\"nme\":\"q\"}]}";
        Assert.Equal(HttpStatusCode.SeeOther, (await PostAsync("/site/import", ("text", Text))).Status);
        string page = (await GetAsync("/site")).Text;
        Assert.Contains("As-built record, line 1, column 32, $.extra: this member is not known and was ignored.", page, StringComparison.Ordinal);
        Assert.Contains("As-built record, line 1, column 62, $.nodes[0].nme: this member is not known and was ignored.", page, StringComparison.Ordinal);
        Assert.Equal(Text, (await GetAsync("/site/record.json")).Text);

        // The page writes what it knows; the version as it was sent comes back whole.
        Assert.Equal(HttpStatusCode.SeeOther, (await PostAsync("/site/nodes/4", ("name", "q"))).Status);
        Assert.DoesNotContain("id=\"remarks\"", (await GetAsync("/site")).Text, StringComparison.Ordinal);
        Assert.Equal(HttpStatusCode.SeeOther, (await PostAsync("/site/again", ("number", "1"))).Status);
        Assert.Equal(Text, (await GetAsync("/site/record.json")).Text);
    }

    [Fact]
    public async Task AFileIsImportedAndComesOutAgain()
    {
        byte[] file = AsBuiltWriter.ToUtf8(AsBuilt.RandomRecord.Of(4) with { Protocol = "CANopen" });
        using MultipartFormDataContent form = new();
        form.Add(new StringContent(_book.Held.Token), "version");
        form.Add(new ByteArrayContent(file), "file", "../../site.json");
        Assert.Equal(HttpStatusCode.SeeOther, (await SendAsync("/site/import", Own, form)).Status);
        Assert.Equal((RecordOrigin.Imported, "CANopen"), (_book.Versions[0].Origin, _book.Held.Record!.Protocol));
        Assert.Equal(Encoding.UTF8.GetString(file), (await GetAsync("/site/record.json")).Text);
        Assert.Equal((await GetAsync("/site/record.json")).Text, (await GetAsync("/site/versions/1")).Text);
        Assert.True(AsBuiltReader.TryRead(Encoding.UTF8.GetBytes((await GetAsync("/site/draft.json")).Text), out AsBuiltRecord? draft, out _));
        Assert.Contains(draft!.Nodes, node => node.Address == 5);
        Assert.Equal(HttpStatusCode.NotFound, (await GetAsync("/site/versions/2")).Status);
        Assert.Equal(HttpStatusCode.NotFound, (await GetAsync("/site/versions/0")).Status);
    }

    [Fact]
    public async Task HostileNamesStayText()
    {
        Assert.Equal(HttpStatusCode.SeeOther, (await PostAsync("/site/nodes/5", ("name", SampleReports.HostileName), ("input-0", "1"), ("input-name-0", "</option></datalist><img src=x>"))).Status);
        foreach (string path in new[] { "/site", "/site/cable", "/site/nodes/5", "/" })
        {
            string page = (await GetAsync(path)).Text;
            Assert.DoesNotContain("<img", page, StringComparison.Ordinal);
            Assert.DoesNotContain("<script>", page, StringComparison.Ordinal);
        }

        Assert.Equal(SampleReports.HostileName, _book.Held.Record!.Nodes[0].Name);
    }

    [Theory]
    [InlineData("/site/nodes/128")]
    [InlineData("/site/nodes/0")]
    [InlineData("/site/nodes/x")]
    [InlineData("/site/nodes/99999999999")]
    public async Task ANodeThatNobodyKnowsIsNotThere(string path)
    {
        Assert.Equal(HttpStatusCode.NotFound, (await GetAsync(path)).Status);
        Assert.Equal(HttpStatusCode.MethodNotAllowed, (await PostAsync(path, ("name", "x"))).Status);
    }

    [Fact]
    public async Task WhileTheLogFailsNothingIsSavedAndTheFormComesBack()
    {
        _state.SetTrouble(Trouble.OfLog, new(0), Core.Wording.Wordings.Named("The card is full."));
        (HttpStatusCode status, string page) = await PostAsync("/site/nodes/5", ("name", "workshop buttons"));
        Assert.Equal(HttpStatusCode.ServiceUnavailable, status);
        Assert.Contains("value=\"workshop buttons\"", page, StringComparison.Ordinal);
        _state.SetTrouble(Trouble.OfLog, new(0), null);
        _disk.Fails = _ => true;
        Assert.Contains("can’t be saved", (await PostAsync("/site/nodes/5", ("name", "workshop buttons"))).Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task APageThatIsReadFromABundleCanOnlyBeRead()
    {
        AgentState state = new() { Report = SampleReports.Rich(), Built = new() { Site = "Wrenfield community library" }, ReadFrom = new(Core.Wording.Wordings.Named("a bundle"), TimeZoneInfo.Utc) };
        TaskCompletionSource<string> address = new(TaskCreationOptions.RunContinuationsAsynchronously);
        using PageService service = new(0, new(state, TimeProvider.System), said => address.TrySetResult(said), NullLogger<PageService>.Instance);
        await service.StartAsync(TestContext.Current.CancellationToken);
        string at = (await address.Task).TrimEnd('/');
        string page = await _client.GetStringAsync(new Uri(at + "/site"), TestContext.Current.CancellationToken);
        Assert.Contains("Wrenfield community library", page, StringComparison.Ordinal);
        Assert.DoesNotContain("<form", page, StringComparison.Ordinal);
        Assert.Contains("schema", await _client.GetStringAsync(new Uri(at + "/site/record.json"), TestContext.Current.CancellationToken), StringComparison.Ordinal);
        using HttpResponseMessage walk = await _client.GetAsync(new Uri(at + "/walk"), TestContext.Current.CancellationToken);
        Assert.Equal(HttpStatusCode.OK, walk.StatusCode);
        Assert.Contains("A walk test needs the bus", await walk.Content.ReadAsStringAsync(TestContext.Current.CancellationToken), StringComparison.Ordinal);
        using HttpRequestMessage save = new(HttpMethod.Post, at + "/site/nodes/5") { Content = new FormUrlEncodedContent([new("name", "x")]) };
        save.Headers.Add("Origin", at);
        using HttpResponseMessage answer = await _client.SendAsync(save, TestContext.Current.CancellationToken);
        Assert.Equal(HttpStatusCode.MethodNotAllowed, answer.StatusCode);
        await service.StopAsync(CancellationToken.None);
    }

    private async Task<(HttpStatusCode Status, string Text)> GetAsync(string path)
    {
        using HttpResponseMessage answer = await _client.GetAsync(new Uri(path, UriKind.Relative), TestContext.Current.CancellationToken);
        return (answer.StatusCode, await answer.Content.ReadAsStringAsync(TestContext.Current.CancellationToken));
    }

    /// <summary>From the own page, with the version that holds unless another is said.</summary>
    private async Task<(HttpStatusCode Status, string Text)> PostAsync(string path, params (string Name, string Value)[] fields)
    {
        IEnumerable<(string Name, string Value)> all = fields.Any(field => field.Name == "version") ? fields : fields.Prepend(("version", _book.Held.Token));
        using FormUrlEncodedContent form = new(all.Select(field => KeyValuePair.Create(field.Name, field.Value)));
        return await SendAsync(path, Own, form);
    }

    private async Task<(HttpStatusCode Status, string Text)> SendAsync(string path, string? origin, HttpContent content)
    {
        using HttpRequestMessage request = new(HttpMethod.Post, path) { Content = content };
        request.Headers.Add("Accept", "text/html");

        // What is refused isn't read, and who still sends it may find the connection closed before the answer.
        request.Headers.ExpectContinue = content.Headers.ContentLength > 60_000;
        if (origin is not null)
        {
            request.Headers.Add("Origin", origin);
        }

        using HttpResponseMessage answer = await _client.SendAsync(request, TestContext.Current.CancellationToken);
        return (answer.StatusCode, await answer.Content.ReadAsStringAsync(TestContext.Current.CancellationToken));
    }
}
