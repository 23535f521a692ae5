using Diagnostics.Can;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Measuring;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Whether errors go with the air: more of them while it is damp (less than 3 K above its dew point, so that a box a little colder than the board is wet), or beginning where the temperature
/// moves by 1.5 K within ten minutes; both limits are assumptions. Weather and errors both last for hours, so counting each error as one of its own would prove anything. Instead each damp
/// spell is one trial against the dry one behind it (sign test), and a run of errors counts once, where it begins, against the part of all blocks that hold a step (binomial). Each is
/// believed below 0.5 %, as there are two; that takes eight spells at least. Until then the findings on errors say that it can't be told. A block of ten minutes with no value of the air
/// begins anew. Errors that were lost are missing from both sides alike.
/// </summary>
internal sealed class WeatherEvidence(Bus bus)
{
    private const double DampKelvin = 3;
    private const double StepKelvin = 1.5;
    private const double Doubt = 0.005;
    private const int LeastSpells = 8;
    private const int LeastOnsets = 5;
    private static readonly TimeSpan Block = TimeSpan.FromMinutes(10);

    private readonly HashSet<string> _told = [];
    private Instant? _begin;
    private double _sum;
    private int _seconds;
    private double _marginSum;
    private int _margins;
    private long _episodesBefore;
    private double _bitsBefore;
    private double? _temperatureBefore;
    private bool _hadErrors;

    private bool? _isDamp;
    private (long Errors, double Bits) _spell;
    private (long Errors, double Bits)? _dampSpell;
    private int _pairs;
    private int _worseWhenDamp;

    private long _blocks;
    private long _steps;
    private long _onsets;
    private long _onsetsAtSteps;

    public void OnSecond(in MeasuredSpan air, double? marginKelvin)
    {
        Instant start = new(air.Start.Nanoseconds / (Block.Ticks * 100) * (Block.Ticks * 100));
        if (_begin is { } begin && start != begin)
        {
            EndBlock(start);
            if (start - begin != Block)
            {
                Interrupt();
            }
        }

        if (_begin != start)
        {
            _begin = start;
            _sum = _marginSum = 0;
            _seconds = _margins = 0;
            _episodesBefore = bus.Errors.Episodes;
            _bitsBefore = bus.Load.TotalBits;
        }

        _sum += air.Mean;
        _seconds++;
        if (marginKelvin is double margin)
        {
            _marginSum += margin;
            _margins++;
        }
    }

    private void Interrupt()
    {
        _temperatureBefore = null;
        _isDamp = null;
        _dampSpell = null;
        _spell = default;
    }

    private void EndBlock(Instant now)
    {
        long errors = bus.Errors.Episodes - _episodesBefore;
        double bits = bus.Load.TotalBits - _bitsBefore;
        double temperature = _sum / _seconds;
        if (_temperatureBefore is double before)
        {
            bool isStep = Math.Abs(temperature - before) >= StepKelvin;
            bool isOnset = errors > 0 && !_hadErrors;
            _blocks++;
            _steps += isStep ? 1 : 0;
            _onsets += isOnset ? 1 : 0;
            _onsetsAtSteps += isOnset && isStep ? 1 : 0;
        }

        _temperatureBefore = temperature;
        _hadErrors = errors > 0;
        if (_margins > 0)
        {
            AddToSpell(_marginSum / _margins < DampKelvin, errors, bits);
        }

        TellAll(now);
    }

    private void AddToSpell(bool isDamp, long errors, double bits)
    {
        if (_isDamp is bool was && was != isDamp)
        {
            if (was)
            {
                _dampSpell = _spell;
            }
            else if (_dampSpell is { Bits: > 0 } damp && _spell.Bits > 0)
            {
                double whenDamp = damp.Errors / damp.Bits;
                double whenDry = _spell.Errors / _spell.Bits;
                _pairs += whenDamp != whenDry ? 1 : 0;
                _worseWhenDamp += whenDamp > whenDry ? 1 : 0;
            }

            _spell = default;
        }

        _isDamp = isDamp;
        _spell = (_spell.Errors + errors, _spell.Bits + bits);
    }

    private void TellAll(Instant now)
    {
        bool goesWithDamp = _pairs >= LeastSpells && ExactIntervals.BinomialTail(_worseWhenDamp, _pairs, 0.5) < Doubt;
        bool goesWithSteps = _onsets >= LeastOnsets && _steps < _blocks && ExactIntervals.BinomialTail(_onsetsAtSteps, _onsets, Math.Max(1, _steps) / (double)_blocks) < Doubt;
        foreach (Finding finding in bus.Book.All)
        {
            if (finding.End is not null || finding.Interface != bus.Name || (finding.Kind != Catalogue.ErrorRate && finding.Kind != Catalogue.ErrorBurst && finding.Kind != Catalogue.NodeErrors))
            {
                continue;
            }

            if (goesWithDamp && _told.Add(finding.Key + " damp"))
            {
                finding.AddEvidence(now, Say($"In {_worseWhenDamp} of {_pairs} damp spells there were more errors on the bus than in the dry one behind: moisture may get in somewhere. Look for it in boxes and glands."));
            }

            if (goesWithSteps && _told.Add(finding.Key + " step"))
            {
                finding.AddEvidence(now, Say($"Of {_onsets} times that errors on the bus began, {_onsetsAtSteps} fell where the temperature moved by {StepKelvin:0.0} K within ten minutes: a joint that moves with the warmth does so."));
            }

            if (!goesWithDamp && !goesWithSteps && _told.Add(finding.Key))
            {
                finding.AddEvidence(now, Say($"Whether errors go with damp air or with the temperature can't be told yet (damp spells: {_pairs}; times that errors began: {_onsets})."));
            }
        }
    }
}
