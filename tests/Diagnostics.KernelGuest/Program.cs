using System.Globalization;
using Diagnostics.KernelGuest;

switch (args)
{
    case ["modules", .. string[] paths]:
        KernelModules.Load(paths);
        return 0;
    case ["bus", string file]:
        using (StreamWriter output = new(file) { AutoFlush = true })
        {
            new BusSteps(output).RunAll();
        }

        return 0;
    case ["program", string program]:
        ProgramSteps.RunAll(program);
        return 0;
    case ["interface", string script]:
        InterfaceSteps.RunAll(script);
        return 0;
    case ["site", string name]:
        return SiteSteps.Send(name);
    case ["adapter", string file]:
        return SiteSteps.Adapt(file);
    case ["log", string directory, string witness, string mode]:
        return LogSteps.Run(directory, witness, mode == "write");
    case ["record", string directory, string device, string seconds]:
        return LogSteps.Record(directory, device, int.Parse(seconds, CultureInfo.InvariantCulture));
    case ["flaky", string lower, string sectors, string file]:
        return FlakySteps.Run(lower, sectors, file);
    case ["failing", string program, string lower, string sectors, string file]:
        return FailingDiskSteps.Run(program, lower, sectors, file);
    case ["judge", string folder, string file]:
        return LogSteps.Judge(folder, file);
    case ["wear", string directory, string device, string file, string hours, string mode]:
        return WearSteps.Run(directory, device, file, int.Parse(hours, CultureInfo.InvariantCulture), mode);
    default:
        Console.Error.WriteLine("modules PATH… | bus FILE | program PATH | interface SCRIPT | site INTERFACE | adapter FILE | log DIRECTORY WITNESS check|write | record DIRECTORY DEVICE SECONDS | flaky DEVICE SECTORS FILE | failing PROGRAM DEVICE SECTORS FILE | judge FOLDER FILE | wear DIRECTORY DEVICE FILE HOURS plain|lazytime|life");
        return 2;
}
