using Diagnostics.Core.Protocols;

namespace Diagnostics.Tests.Protocols;

public sealed class ProtocolGuessTests
{
    /// <summary>A record that was imported is kept as it was written.</summary>
    [Theory]
    [InlineData("canopen", true, false)]
    [InlineData("CANopen", true, false)]
    [InlineData("auto", false, true)]
    [InlineData("Auto", false, true)]
    [InlineData("None", false, false)]
    public void TheWordMayBeWrittenWithLargeLetters(string asked, bool isCanOpen, bool isOpen)
    {
        ProtocolGuess guess = new(asked);
        Assert.Equal((isCanOpen, isOpen), (guess.IsCanOpen, guess.IsOpen));
    }
}
