using System.Diagnostics.CodeAnalysis;
using System.Globalization;
using System.Net;
using Diagnostics.Agent.Pages;
using Microsoft.AspNetCore.Http;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Access;

/// <summary>
/// Answers that don't end (a live stream) have places: each of them is written to again and again, and holds a connection. Those on loopback have their own, and
/// a device has a share; who finds none is told when to come again, and the page itself works without.
/// </summary>
internal sealed class StreamPlaces
{
    private readonly Lock _lock = new();
    private readonly List<Place> _taken = [];

    /// <summary>Takes a place until it is disposed. Where there is none, the request is answered.</summary>
    public bool TryTake(HttpContext context, [NotNullWhen(true)] out IDisposable? place)
    {
        Arrival? arrival = context.Features.Get<Arrival>();
        bool isDistant = arrival?.IsDistant ?? false;
        IPAddress address = arrival?.Address ?? IPAddress.Loopback;
        lock (_lock)
        {
            bool isFree = _taken.Count(other => other.IsDistant == isDistant) < (isDistant ? Limits.DistantStreams : Limits.LoopbackStreams)
                && (!isDistant || _taken.Count(other => other.IsDistant && other.Address.Equals(address)) < Limits.StreamsPerAddress);
            Place? taken = isFree ? new(this, address, isDistant) : null;
            if (taken is not null)
            {
                _taken.Add(taken);
            }

            place = taken;
        }

        return place is not null;
    }

    /// <summary>Says that there is no place, and when to come again.</summary>
    public static Task RefuseAsync(HttpContext context)
    {
        context.Response.Headers.RetryAfter = ((int)Limits.StreamRetry.TotalSeconds).ToString(CultureInfo.InvariantCulture);
        return PageAnswers.RefuseAsync(context, StatusCodes.Status503ServiceUnavailable, Say($"Too many pages are kept current at this moment. Reload this one by hand, or close others."));
    }

    private void Leave(Place place)
    {
        lock (_lock)
        {
            _taken.Remove(place);
        }
    }

    private sealed class Place(StreamPlaces places, IPAddress address, bool isDistant) : IDisposable
    {
        public IPAddress Address => address;

        public bool IsDistant => isDistant;

        public void Dispose() => places.Leave(this);
    }
}
