using Diagnostics.Can;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Diagnosis;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Symptoms, as far as identity was heard (others read it; we never ask): another device answers at a known address, and equal devices carry different
/// firmware. Limit: a serial number (1018h:4) other than the one heard before, with a boot-up between (without one it is a sign of two devices, see
/// <see cref="IdentityContradiction"/>); a firmware text (100Ah) that differs from most of the devices with the same vendor and product.
/// Both are notes: a replaced module is no fault. Lost frames don't matter: only what was heard is compared.
/// </summary>
internal sealed class IdentityDetector(Bus bus)
{
    private readonly Dictionary<byte, (uint Serial, bool BootedSince)> _serials = [];
    private readonly HashSet<byte> _differs = [];

    public void OnBootUp(Instant time, NodeState node)
    {
        if (_serials.TryGetValue(node.Address, out (uint Serial, bool BootedSince) known))
        {
            _serials[node.Address] = known with { BootedSince = true };
        }
    }

    public void OnSerial(Instant time, NodeState node, uint serial)
    {
        bool isKnown = _serials.TryGetValue(node.Address, out (uint Serial, bool BootedSince) known);
        if (isKnown && known.Serial != serial && known.BootedSince)
        {
            Finding finding = bus.Book.Raise(Catalogue.NodeReplaced, bus.Name, Subject.OfNode(node.Address), node.LastBootUp, time, 0.97);
            finding.HoldOff = TimeSpan.FromMinutes(1);
            finding.Tell(Say($"{bus.Names.Node(node.Address)} was replaced: serial number {serial} answers where {known.Serial} did."));
            finding.AddEvidence(time, Say($"Serial number {serial} read, {known.Serial} before."));
            finding.Causes = Causes.Of((Cause.ConfigurationDiffers, 1, Say($"If the exchange was wanted, only the record needs the new number.")));
        }

        // The boot-up is used up: the same number behind it says that the same device is there.
        _serials[node.Address] = (serial, false);
    }

    public void OnSecond(Instant now)
    {
        // Identity changes rarely; looking once in ten seconds is enough.
        if (now.Nanoseconds / 1_000_000_000 % 10 != 0 || !bus.Protocol.IsCanOpen)
        {
            return;
        }

        foreach (IGrouping<(uint?, uint?), NodeState> equals in bus.Nodes
            .Where(node => node.Knowledge.Product is not null && node.Knowledge.FirmwareVersion is not null)
            .GroupBy(node => (node.Knowledge.Vendor, node.Knowledge.Product)))
        {
            NodeState[] nodes = [.. equals];
            if (nodes.Length < 3)
            {
                continue;
            }

            IGrouping<string, NodeState>[] versions = [.. nodes.GroupBy(node => node.Knowledge.FirmwareVersion!).OrderByDescending(group => group.Count()).ThenBy(group => group.Key, StringComparer.Ordinal)];
            string usual = versions[0].Key;
            foreach (NodeState node in nodes)
            {
                bool differs = node.Knowledge.FirmwareVersion != usual && versions[0].Count() * 2 > nodes.Length;
                if (!differs && _differs.Remove(node.Address))
                {
                    bus.Book.Close(Catalogue.FirmwareDiffers, bus.Name, Subject.OfNode(node.Address), now);
                }
                else if (differs && _differs.Add(node.Address))
                {
                    Report(node, usual, versions[0].Count(), now);
                }
            }
        }
    }

    private void Report(NodeState node, string usual, int equals, Instant now)
    {
        Finding finding = bus.Book.Raise(Catalogue.FirmwareDiffers, bus.Name, Subject.OfNode(node.Address), now, now, 0.99);
        finding.Tell(Say($"{bus.Names.Node(node.Address)} carries firmware “{node.Knowledge.FirmwareVersion}”, its {equals} equals carry “{usual}”."));
        finding.AddEvidence(now, Say($"Read by another device from 100Ah; same vendor and product as {equals} others."));
        finding.Causes = Causes.Of((Cause.ConfigurationDiffers, 5, Say($"It was made or updated at another time than its equals.")));
    }
}
