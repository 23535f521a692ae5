using System.Globalization;
using System.Text.Json;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

/// <summary>Each sign of two modules on one address by itself, at its limit and beside what looks alike, in frames written by hand.</summary>
public class DuplicateSignsTests
{
    /// <summary>A stuff error that the interface told of (Linux, can/error.h).</summary>
    private const string Error = "20000088#0000040000000000";

    /// <summary>Heard beside a node 6 whose heartbeat comes each second.</summary>
    private static Replayed Heard(double seconds, IEnumerable<(double Time, string Frame)> frames)
    {
        IEnumerable<(double Time, string Frame)> all = frames.Concat(Enumerable.Range(0, (int)seconds).Select(second => (second + 0.4, "706#05")));
        return OfText(
            string.Concat(all.OrderBy(frame => frame.Time).Select(frame => string.Create(CultureInfo.InvariantCulture, $"({1_700_000_000 + frame.Time:0.000000}) can0 {frame.Frame}\n"))),
            "--bit-rate", "125000", "--protocol", "canopen");
    }

    private static string? Evidence(Replayed replayed) => replayed.Has("node.duplicate-address", 5)
        ? string.Join(' ', replayed.The("node.duplicate-address", 5).GetProperty("evidence").EnumerateArray().Select(row => row.GetProperty("text").GetString()))
        : null;

    // ---- beats a moment apart ------------------------------------------------------------------------------------

    /// <summary>Node 5 each second; from 60 s on once more, this much later.</summary>
    private static Replayed Beats(double after, int pairs, string id = "705", double period = 1, string? between = null)
    {
        List<(double, string)> frames = [];
        for (int beat = 0; beat < 160; beat++)
        {
            double time = beat * period;
            frames.Add((time, "705#05"));
            if (beat >= 60 && beat < 60 + pairs)
            {
                frames.Add((time + after, "705#05"));
                if (between is not null)
                {
                    frames.Add((time + (after / 2), between));
                }

                if (id != "705")
                {
                    frames.Add((time + 0.4 + after, id + "#05"));
                }
            }
        }

        return Heard(160 * period, frames);
    }

    [Theory]
    [InlineData(0.0005)]
    [InlineData(0.003)]
    [InlineData(0.0048)]
    public void ABeatThatComesTwiceIsTwoModules(double after) => Assert.Contains("comes twice now", Evidence(Beats(after, 100)), StringComparison.Ordinal);

    [Fact]
    public void SoManyPairsMayBeOneSendersRepeats()
    {
        Assert.Null(Evidence(Beats(0.002, 39)));
        Assert.NotNull(Evidence(Beats(0.002, 40)));
    }

    [Fact]
    public void PairsBehindErrorsAreRepeats() => Assert.Null(Evidence(Beats(0.002, 100, between: Error)));

    [Fact]
    public void ARecorderThatWritesEveryFrameTwiceMakesNoSecondModule() => Assert.Null(Evidence(Beats(0.002, 100, id: "706")));

    [Fact]
    public void FramesCloserThanOneTakesOnTheWireAreNotTwo() => Assert.Null(Evidence(Beats(0.00002, 100)));

    // ---- guarding ------------------------------------------------------------------------------------------------

    private enum Answered
    {
        Once,
        Equally,
        Contradicting,
    }

    /// <summary>Node 5 is asked every two seconds.</summary>
    /// <param name="requests">How many.</param>
    /// <param name="how">How each is answered, by its number.</param>
    /// <param name="between">A line between both answers.</param>
    private static Replayed Guarding(int requests, Func<int, Answered> how, string? between = null)
    {
        List<(double, string)> frames = [];
        for (int request = 0; request < requests; request++)
        {
            double time = 2 * request;
            string toggle = request % 2 == 0 ? "05" : "85";
            frames.Add((time, "705#R"));
            frames.Add((time + 0.001, "705#" + toggle));
            if (how(request) != Answered.Once)
            {
                frames.Add((time + 0.002, "705#" + (how(request) == Answered.Equally ? toggle : toggle == "05" ? "85" : "05")));
                if (between is not null)
                {
                    frames.Add((time + 0.0015, between));
                }
            }
        }

        return Heard(2 * requests, frames);
    }

    [Fact]
    public void TwoAnswersToGuardingThatContradictEachOtherAreTwoModules()
    {
        Assert.Contains("contradict", Evidence(Guarding(60, request => request is >= 30 and < 42 ? Answered.Contradicting : Answered.Once)), StringComparison.Ordinal);
        Assert.Null(Evidence(Guarding(60, request => request is >= 30 and < 41 ? Answered.Contradicting : Answered.Once)));
    }

    [Fact]
    public void TwoEqualAnswersToGuardingAreTwoModulesOnceNoSenderCouldHaveRepeatedThem()
    {
        Assert.Contains("equal content", Evidence(Guarding(90, request => request is >= 30 and < 70 ? Answered.Equally : Answered.Once)), StringComparison.Ordinal);
        Assert.Null(Evidence(Guarding(90, request => request is >= 30 and < 69 ? Answered.Equally : Answered.Once)));
    }

    [Fact]
    public void AnAnswerToGuardingThatIsRepeatedBehindAnErrorIsOne() => Assert.Null(Evidence(Guarding(100, _ => Answered.Equally, Error)));

    [Fact]
    public void AGuardedModuleThatSendsItsHeartbeatRightBehindEachAnswerIsOne() =>
        Assert.Null(Evidence(Guarding(200, request => request % 2 == 0 ? Answered.Equally : Answered.Contradicting)));

    [Fact]
    public void AnswersThatWaitedAndComeAllAtOnceAreOneModules()
    {
        // Cut off for three requests of ten; then everything comes at once.
        List<(double, string)> frames = [];
        for (int request = 0; request < 300; request++)
        {
            frames.Add((2 * request, "705#R"));
            for (int answer = request % 10 == 9 ? -3 : 0; request % 10 is < 6 or 9 && answer <= 0; answer++)
            {
                frames.Add(((2 * request) + 0.005 + (0.001 * answer), (request + answer) % 2 == 0 ? "705#05" : "705#85"));
            }
        }

        Assert.Null(Evidence(Heard(600, frames)));
    }

    [Fact]
    public void AnswersStampedBeforeTheirRequestsAreOneModules()
    {
        IEnumerable<(double, string)> frames = Enumerable.Range(0, 200).SelectMany(request => new[]
        {
            (2.0 * request, "705#R"),
            ((2.0 * request) + (request % 3 == 0 ? -0.01 : request % 3 == 1 ? 0.02 : 0.001), request % 2 == 0 ? "705#05" : "705#85"),
        });
        Assert.Null(Evidence(Heard(400, frames)));
    }

    // ---- service data --------------------------------------------------------------------------------------------

    /// <summary>Eight rounds of five questions, each answered twice: in time, and once more behind the next question.</summary>
    private static Replayed LateAnswers(bool inTime)
    {
        List<(double, string)> frames = [];
        for (int question = 0; question < 40; question++)
        {
            double time = 20 + (4 * (question / 5)) + (0.1 * (question % 5));
            frames.Add((time, $"605#40{question:X2}200000000000"));
            if (inTime || question % 5 == 4)
            {
                frames.Add((time + 0.01, $"585#43{question:X2}200001000000"));
            }

            if (question % 5 < 4)
            {
                frames.Add((time + 0.105, $"585#43{question:X2}200001000000"));
            }
        }

        return Heard(80, frames.Concat(Enumerable.Range(0, 80).Select(second => ((double)second, "705#05"))));
    }

    [Fact]
    public void SecondAnswersBehindTheNextQuestionAreTwoModules() => Assert.Contains("two answers each", Evidence(LateAnswers(inTime: true)), StringComparison.Ordinal);

    [Fact]
    public void AnswersThatOnlyComeBehindTheNextQuestionAreOneModules() => Assert.Null(Evidence(LateAnswers(inTime: false)));

    /// <summary>One question for a part of node 5's identity (1018h), and what comes behind it; time passes by a tenth of a second at "wait".</summary>
    private static Replayed Identity(params string[] answers)
    {
        List<(double, string)> frames = [.. Enumerable.Range(0, 60).Select(second => ((double)second, "705#05")), (30.2, "605#4018100400000000")];
        double time = 30.21;
        foreach (string answer in answers)
        {
            time += answer == "wait" ? 0.1 : 0.002;
            if (answer != "wait")
            {
                frames.Add((time, answer));
            }
        }

        return Heard(60, frames);
    }

    [Theory]
    [InlineData("585#4318100401000000", "585#4318100402000000", "serial number was answered as 1 and as 2 within 2 ms")]
    [InlineData("585#4318100201000000", "585#4318100202000000", "1018h:2")]
    public void TwoIdentitiesAtOnceAreTwoModules(string first, string second, string says) => Assert.Contains(says, Evidence(Identity(first, second)), StringComparison.Ordinal);

    [Theory]
    [InlineData("585#4318100401000000", "585#4318100401000000")]
    [InlineData("585#4318100401000000", "705#00", "585#4318100402000000")]
    [InlineData("585#4318100401000000", "wait", "wait", "wait", "wait", "wait", "wait", "wait", "wait", "wait", "wait", "585#4318100402000000")]
    [InlineData("585#4318100101000000", "585#4318100202000000")]
    public void OneIdentityOrTimeForAnExchangeIsNotTwo(params string[] answers) => Assert.Null(Evidence(Identity(answers)));

    // ---- what else may look like it ------------------------------------------------------------------------------

    [Theory]
    [InlineData("node.restarted", "705#00")]
    [InlineData("node.reports-fault", "085#4081110000000000")]
    public void ARestartAndARecoveryFromBusOffNameTheSecondModuleAmongTheirCauses(string finding, string frame)
    {
        Replayed replayed = Heard(60, [.. Enumerable.Range(0, 60).Select(second => (second + (second < 30 ? 0 : 0.3), "705#05")), (30.1, frame)]);
        JsonElement cause = replayed.The(finding, 5).GetProperty("causes").EnumerateArray().Single(cause => cause.GetProperty("cause").GetString() == "address-set-twice");
        Assert.Contains("address switches", cause.GetProperty("nextCheck").GetString(), StringComparison.Ordinal);
    }
}
