namespace Diagnostics.SystemTests;

public class ProgramTests
{
    [Fact]
    public void TheProgramIsBuiltBesideTheTests() =>
        Assert.True(File.Exists(Path.Combine(AppContext.BaseDirectory, "diagnostics.dll")));
}
