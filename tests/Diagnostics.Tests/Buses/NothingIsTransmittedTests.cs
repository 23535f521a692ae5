using System.Reflection;
using System.Reflection.Emit;
using System.Reflection.Metadata;
using System.Reflection.PortableExecutable;
using Diagnostics.Agent.Buses;

namespace Diagnostics.Tests.Buses;

/// <summary>"Nothing is ever transmitted" as a property of the built program.</summary>
public class NothingIsTransmittedTests
{
    /// <summary>Calls that can put bytes into a socket, or reach such a call by another way.</summary>
    private static readonly string[] Refused =
        ["send", "write", "pwrite", "splice", "tee", "vmsplice", "aio_", "lio_", "io_", "syscall", "dlopen", "dlsym", "fopen", "fputs", "dprintf", "system", "exec", "posix_spawn"];

    private static List<string> ImportsOf(string path)
    {
        using PEReader file = new(File.OpenRead(path));
        MetadataReader metadata = file.GetMetadataReader();
        return [.. metadata.MethodDefinitions
            .Select(metadata.GetMethodDefinition)
            .Where(method => (method.Attributes & MethodAttributes.PinvokeImpl) != 0)
            .Select(method => metadata.GetString(method.GetImport().Name))
            .Distinct()
            .Order(StringComparer.Ordinal)];
    }

    [Fact]
    public void TheProgramImportsNoCallThatSends()
    {
        List<string> imports = ImportsOf(typeof(SocketCanSource).Assembly.Location);
        Assert.Contains("recvmmsg", imports);
        Assert.DoesNotContain(imports, import => Refused.Any(refused => import.StartsWith(refused, StringComparison.OrdinalIgnoreCase)));
    }

    [Fact]
    public void TheBusCodeImportsExactlyTheseCalls() =>
        Assert.Equal(
            ["bind", "clock_gettime", "close", "ioctl", "pipe2", "poll", "recvmmsg", "setsockopt", "socket"],
            typeof(LinuxCalls).GetMethods(BindingFlags.Static | BindingFlags.NonPublic)
                .Where(method => method.GetCustomAttributes().Any(attribute => attribute.GetType().Name == "LibraryImportAttribute") || (method.Attributes & MethodAttributes.PinvokeImpl) != 0)
                .Select(method => method.Name)
                .Where(name => !name.StartsWith('<'))
                .Distinct()
                .Order(StringComparer.Ordinal));

    /// <summary>The runtime's socket can send; only the questions to the kernel's route family may use it.</summary>
    [Fact]
    public void OnlyTheLinkQueryUsesTheRuntimesSocket()
    {
        Type[] users = [.. typeof(SocketCanSource).Assembly.GetTypes()
            .Where(type => type.Namespace == typeof(SocketCanSource).Namespace)
            .Where(type => CalledBy(type).Any(method => method.DeclaringType?.Namespace == "System.Net.Sockets"))];
        Assert.Equal([typeof(LinkQuery)], users);
    }

    [Fact]
    public void TheCanSocketIsNeverHandedOut()
    {
        Assert.DoesNotContain(
            typeof(CanSocket).GetFields(BindingFlags.Instance | BindingFlags.Static | BindingFlags.NonPublic | BindingFlags.Public),
            field => field.FieldType.Namespace == "System.Net.Sockets" || field.FieldType == typeof(FileStream));
        Assert.DoesNotContain(CalledBy(typeof(CanSocket)), method => method.DeclaringType == typeof(FileStream) || method.DeclaringType == typeof(RandomAccess));
    }

    /// <summary>Every method that the type's code calls: each four bytes after a call instruction's code that resolve to a method.</summary>
    private static IEnumerable<MethodBase> CalledBy(Type type)
    {
        const BindingFlags All = BindingFlags.Instance | BindingFlags.Static | BindingFlags.NonPublic | BindingFlags.Public | BindingFlags.DeclaredOnly;
        foreach (MethodBase method in type.GetMethods(All).Cast<MethodBase>().Concat(type.GetConstructors(All)))
        {
            if (method.GetMethodBody()?.GetILAsByteArray() is not { } code)
            {
                continue;
            }

            for (int i = 0; i + 5 <= code.Length; i++)
            {
                if (code[i] == OpCodes.Call.Value || code[i] == OpCodes.Callvirt.Value || code[i] == OpCodes.Newobj.Value)
                {
                    MethodBase? called = Resolve(method, BitConverter.ToInt32(code, i + 1));
                    if (called is not null)
                    {
                        yield return called;
                    }
                }
            }
        }
    }

    private static MethodBase? Resolve(MethodBase from, int token)
    {
        // 06 = method definition, 0A = member reference, 2B = method specification (ECMA-335, II.22).
        if (token >>> 24 is not (0x06 or 0x0A or 0x2B))
        {
            return null;
        }

        try
        {
            return from.Module.ResolveMethod(token, from.DeclaringType?.GetGenericArguments(), null);
        }
        catch (ArgumentException)
        {
            return null;
        }
    }
}
