using System.Text.Json;
using System.Text.Json.Nodes;

namespace Diagnostics.Simulation;

/// <summary>Writes what a site's installer would hand over: the as-built record as JSON. Our adapter is clipped on at the cable's beginning.</summary>
public static class AsBuiltText
{
    private static readonly JsonSerializerOptions Indented = new() { WriteIndented = true };

    public static string Write(Site site)
    {
        JsonArray trunk = [new JsonObject { ["terminatorOhms"] = 120 }, new JsonObject { ["clip"] = true, ["metres"] = 1 }];
        JsonArray nodes = [];
        foreach (ModulePlan module in site.Modules)
        {
            trunk.Add(new JsonObject { ["node"] = module.Address, ["metres"] = module.Metres });
            nodes.Add(WriteNode(site, module));
        }

        trunk.Add(new JsonObject { ["terminatorOhms"] = 120 });
        return new JsonObject
        {
            ["schema"] = 1,
            ["site"] = site.Name,
            ["bitRate"] = site.BitRate,
            ["protocol"] = "canopen",
            ["trunk"] = trunk,
            ["nodes"] = nodes,
        }.ToJsonString(Indented);
    }

    private static JsonObject WriteNode(Site site, ModulePlan module)
    {
        JsonObject node = new()
        {
            ["address"] = module.Address,
            ["name"] = module.Name,
            ["type"] = module.ProductName,
            ["serial"] = module.Serial.ToString(System.Globalization.CultureInfo.InvariantCulture),
            ["firmware"] = module.Firmware,
        };
        if (module.Inputs.Count > 0)
        {
            node["inputs"] = new JsonArray([.. module.Inputs.Select(input => new JsonObject
            {
                ["input"] = input.Input,
                ["name"] = input.Name,
                ["kind"] = input.Kind switch
                {
                    ContactKind.PushButton => "push-button",
                    ContactKind.Switch => "switch",
                    ContactKind.Contact => "contact",
                    _ => "motion",
                },
            })]);
        }

        if (module.Outputs.Count > 0)
        {
            node["outputs"] = new JsonArray([.. module.Outputs.Select(output => WriteOutput(site, module, output))]);
        }

        if (module.ReadsOutputsBack)
        {
            int bytes = (module.Outputs.Max(output => output.Output) + 7) / 8;
            node["pdoMapping"] = new JsonObject
            {
                ["TPDO2"] = new JsonArray([.. Enumerable.Range(1, bytes).Select(sub => JsonValue.Create(string.Create(System.Globalization.CultureInfo.InvariantCulture, $"6200:{sub:X2}")))]),
            };
        }

        return node;
    }

    private static JsonObject WriteOutput(Site site, ModulePlan module, OutputPlan output)
    {
        JsonObject written = new()
        {
            ["output"] = output.Output,
            ["name"] = output.Name,
            ["kind"] = output.IsDimmer ? "dimmer" : "relay",
        };
        JsonObject[] switchedBy = [.. site.Rules
            .Where(rule => rule.ToNode == module.Address && rule.ToOutput == output.Output)
            .Select(rule => new JsonObject { ["node"] = rule.FromNode, ["input"] = rule.FromInput, ["press"] = rule.LongPress ? "long" : "short" })];
        if (switchedBy.Length > 0)
        {
            written["switchedBy"] = new JsonArray([.. switchedBy]);
        }

        return written;
    }
}
