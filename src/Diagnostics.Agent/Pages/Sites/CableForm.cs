using System.Globalization;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Wording;
using Microsoft.AspNetCore.Http;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages.Sites;

/// <summary>What stands in the form of the cable, as it was written: what is wrong stays until it is put right. Buttons that move something change only this; saving is another.</summary>
/// <param name="Token">What the person saw when the form was opened.</param>
/// <param name="Site">Name of the site.</param>
/// <param name="Begin">The terminator at the beginning, ohms; empty = none.</param>
/// <param name="Places">What lies between, in cable order.</param>
/// <param name="End">The terminator at the end, ohms; empty = none.</param>
/// <param name="EndMetres">The cable before that.</param>
internal sealed record CableForm(string Token, string Site, string Begin, IReadOnlyList<CablePlace> Places, string End, string EndMetres)
{
    public const string SiteField = "site";
    public const string BeginField = "begin";
    public const string EndField = "end";
    public const string EndMetresField = "end-metres";
    public const string Up = "up";
    public const string Down = "down";
    public const string Off = "off";

    /// <summary>What is chosen goes right behind another place.</summary>
    public const string Move = "move";
    public const string MoveField = "move";
    public const string BehindField = "behind";

    /// <summary>A node goes to the end of the cable.</summary>
    public const string Add = "add";

    /// <summary>All that aren't there go to the end, by address.</summary>
    public const string AddAll = "add-all";
    public const string AddClip = "add-clip";

    /// <summary>The place that is chosen to be moved; null = none.</summary>
    public int? Chosen { get; init; }

    /// <summary>The place that it is to lie right behind; null = the beginning of the cable.</summary>
    public int? Behind { get; init; }

    /// <summary>The field of a place: what it is, its metres, its ohms.</summary>
    public static string What(int place) => Field("what", place);

    public static string Metres(int place) => Field("metres", place);

    public static string Ohms(int place) => Field("ohms", place);

    /// <summary>The button that does something to one place or node.</summary>
    public static string Act(string what, int number) => string.Create(CultureInfo.InvariantCulture, $"{what}-{number}");

    public static CableForm Of(SiteView view)
    {
        IReadOnlyList<TrunkEntry> trunk = view.Record.Trunk;
        TrunkEntry? begin = trunk is [{ TerminatorOhms: not null } first, ..] ? first : null;
        TrunkEntry? end = trunk.Count > 1 && trunk[^1].TerminatorOhms is not null ? trunk[^1] : null;
        return new(
            view.Held.Token,
            view.Record.Site ?? string.Empty,
            SiteFields.Written(begin?.TerminatorOhms),
            [.. trunk.Skip(begin is null ? 0 : 1).SkipLast(end is null ? 0 : 1).Select(entry => new CablePlace(
                entry.Node is not null ? PlaceKind.Node : entry.Clip ? PlaceKind.Clip : PlaceKind.Terminator,
                entry.Node ?? 0,
                SiteFields.Written(entry.Metres),
                SiteFields.Written(entry.TerminatorOhms)))],
            SiteFields.Written(end?.TerminatorOhms),
            SiteFields.Written(end?.Metres));
    }

    public static CableForm Read(IFormCollection form)
    {
        List<CablePlace> places = [];
        HashSet<int> placed = [];
        for (int index = 0; form.TryGetValue(What(index), out Microsoft.Extensions.Primitives.StringValues what) && places.Count < AsBuiltLimits.TrunkEntries; index++)
        {
            string said = what.ToString();
            bool isNode = int.TryParse(said, NumberStyles.None, CultureInfo.InvariantCulture, out int node) && node is >= 1 and <= AsBuiltLimits.HighestAddress;
            if ((isNode && placed.Add(node)) || said is "clip" or "terminator")
            {
                places.Add(new(isNode ? PlaceKind.Node : said == "clip" ? PlaceKind.Clip : PlaceKind.Terminator, node, form[Metres(index)].ToString(), form[Ohms(index)].ToString()));
            }
        }

        return new(
            form[SiteLinks.TokenField].ToString(), form[SiteField].ToString(), form[BeginField].ToString(), places, form[EndField].ToString(), form[EndMetresField].ToString())
        {
            Chosen = Number(MoveField),
            Behind = Number(BehindField),
        };

        int? Number(string field) => int.TryParse(form[field].ToString(), NumberStyles.None, CultureInfo.InvariantCulture, out int number) && number < places.Count ? number : null;
    }

    /// <summary>After a button was pressed.</summary>
    /// <param name="act">Which.</param>
    /// <param name="others">Nodes that aren't on the cable.</param>
    /// <param name="moved">The place that is to have the focus; null = none.</param>
    public CableForm After(string act, IReadOnlyList<int> others, out int? moved)
    {
        moved = null;
        List<CablePlace> places = [.. Places];
        int dash = act.LastIndexOf('-');
        string what = dash < 0 ? act : act[..dash];
        int number = dash >= 0 && int.TryParse(act.AsSpan(dash + 1), NumberStyles.None, CultureInfo.InvariantCulture, out int said) ? said : -1;
        bool isPlace = number >= 0 && number < places.Count;
        switch (what)
        {
            case Up or Down when isPlace:
                int other = what == Up ? number - 1 : number + 1;
                if (other >= 0 && other < places.Count)
                {
                    // The lengths of cable stay where they are; the devices change places.
                    (places[number], places[other]) = (places[other] with { Metres = places[number].Metres }, places[number] with { Metres = places[other].Metres });
                    moved = other;
                }

                break;
            case Off when isPlace:
                return Without(number);
            case Add when others.Contains(number):
                places.Add(new(PlaceKind.Node, number, string.Empty, string.Empty));
                moved = places.Count - 1;
                break;
            default:
                if (act == AddAll)
                {
                    places.AddRange(others.Order().Select(node => new CablePlace(PlaceKind.Node, node, string.Empty, string.Empty)));
                }
                else if (act == Move && Chosen is int chosen && chosen != Behind)
                {
                    CablePlace one = places[chosen];
                    places.RemoveAt(chosen);
                    int target = Behind is not int behind ? 0 : behind < chosen ? behind + 1 : behind;
                    places.Insert(target, one);
                    places = [.. places.Select((place, index) => place with { Metres = Places[index].Metres })];
                    moved = target;
                }
                else if (act == AddClip && places.All(place => place.Kind != PlaceKind.Clip))
                {
                    places.Add(new(PlaceKind.Clip, 0, string.Empty, string.Empty));
                    moved = places.Count - 1;
                }

                break;
        }

        return this with { Places = places };
    }

    /// <summary>What a device leaves is cable: the two lengths beside it become one, if both are known.</summary>
    private CableForm Without(int place)
    {
        List<CablePlace> places = [.. Places];
        string before = places[place].Metres;
        places.RemoveAt(place);
        string after = place < places.Count ? places[place].Metres : EndMetres;
        bool areKnown = SiteFields.TryNumber(before, AsBuiltLimits.Metres, out double? one) & SiteFields.TryNumber(after, AsBuiltLimits.Metres, out double? two);
        string joined = areKnown ? SiteFields.Written(one + two) : string.Empty;
        if (place == 0 && Begin.Trim().Length == 0)
        {
            // Nothing lies before it: the next one is where the cable begins.
            joined = string.Empty;
        }

        if (place < places.Count)
        {
            places[place] = places[place] with { Metres = joined };
            return this with { Places = places };
        }

        return this with { Places = places, EndMetres = End.Trim().Length == 0 ? EndMetres : joined };
    }

    /// <summary>The record with this cable, and with the nodes on it that it didn't have.</summary>
    public bool TryRecord(SiteView view, out AsBuiltRecord record, out Sentence? why)
    {
        record = view.Record;
        List<TrunkEntry> trunk = [];
        if (!TryTerminator(Begin, string.Empty, trunk, out why))
        {
            return false;
        }

        foreach (CablePlace place in Places)
        {
            if (place.Kind == PlaceKind.Terminator)
            {
                if (!TryTerminator(place.Ohms, place.Metres, trunk, out why))
                {
                    return false;
                }

                continue;
            }

            if (!TryMetres(place.Metres, out double? metres, out why))
            {
                return false;
            }

            trunk.Add(new(place.Kind == PlaceKind.Node ? place.Node : null, null, place.Kind == PlaceKind.Clip, metres));
        }

        if (!TryTerminator(End, EndMetres, trunk, out why))
        {
            return false;
        }

        IEnumerable<BuiltNode> fresh = view.Draft.Nodes
            .Where(node => node.Standing == DraftStanding.HeardOnly && Places.Any(place => place.Kind == PlaceKind.Node && place.Node == node.Node.Address)).Select(node => node.Node);
        record = record with { Site = SiteFields.Text(Site), Trunk = trunk, Nodes = [.. record.Nodes, .. fresh] };
        why = SiteFields.Obstacle(Say($"Name of the site"), record.Site);
        return why is null;
    }

    private static bool TryTerminator(string ohms, string metres, List<TrunkEntry> trunk, out Sentence? why)
    {
        if (!SiteFields.TryNumber(ohms, AsBuiltLimits.Ohms, out double? resistance) || resistance == 0)
        {
            why = SiteFields.IsNegative(ohms)
                ? Say($"A resistance must not be negative, as “{ohms}” is: give ohms up to {AsBuiltLimits.Ohms:N0}, usually 120, or leave it empty where there is no terminator.")
                : Say($"“{ohms}” is no resistance of a terminator: give ohms up to {AsBuiltLimits.Ohms:N0}, usually 120, or leave it empty where there is none.");
            return false;
        }

        double? length = null;
        why = null;
        if (resistance is not null && !TryMetres(metres, out length, out why))
        {
            return false;
        }

        if (resistance is not null)
        {
            trunk.Add(new(null, resistance, false, length));
        }

        return true;
    }

    private static bool TryMetres(string text, out double? metres, out Sentence? why)
    {
        why = SiteFields.TryNumber(text, AsBuiltLimits.Metres, out metres) ? null
            : SiteFields.IsNegative(text)
            ? Say($"A length of cable must not be negative, as “{text}” is: give metres from 0 to {AsBuiltLimits.Metres:N0}, or leave it empty where nobody knows.")
            : Say($"“{text}” is no length of cable: give metres from 0 to {AsBuiltLimits.Metres:N0}, or leave it empty where nobody knows.");
        return why is null;
    }

    private static string Field(string name, int place) => string.Create(CultureInfo.InvariantCulture, $"{name}-{place}");
}

/// <summary>One thing on the cable, as the form has it.</summary>
internal sealed record CablePlace(PlaceKind Kind, int Node, string Metres, string Ohms)
{
    /// <summary>As the form says it.</summary>
    public string What => Kind switch { PlaceKind.Node => Node.ToString(CultureInfo.InvariantCulture), PlaceKind.Clip => "clip", _ => "terminator" };
}

internal enum PlaceKind
{
    Node,
    Clip,

    /// <summary>One that stands elsewhere than at an end, where none belongs; the record may say what was found.</summary>
    Terminator,
}
