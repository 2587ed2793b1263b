"""Compare placing 5,000 photos on a track of a million points with a bare loop of bisect and interpolation.

The bare loop does no more than find the two points around each moment and interpolate latitude, longitude and height;
ours also judges the gaps and says how sure the place is. Once with the track made ready before; once with the making
ready in it as after our reader, which has seen that the times rise; once where that has to be looked at. Then the same
photos on a tenth of the track.
Needs nothing beside Fellside. Goals: at most 2 x the bare loop; at most 2 x the time for 10 x the track.
"""

from __future__ import annotations

import random
from array import array
from bisect import bisect_right

from timing import Case, compare, judge, tell_machine

from field.core.match_track import Placed, make_timed_line, place_photo

POINTS, PHOTOS = 1_000_000, 5_000
START_S = 1_800_000_000.0


def made_arrays(points: int) -> tuple[array[float], ...]:
    """Return times, latitudes, longitudes and heights of a walk with a point every one to two seconds."""
    rng = random.Random(7)
    times, lats, lons, heights = (array("d") for _ in range(4))
    at_s, lat, lon = START_S, 55.4, -3.4
    for _ in range(points):
        times.append(at_s)
        lats.append(lat)
        lons.append(lon)
        heights.append(300.0)
        at_s += rng.randrange(1, 3)
        lat += rng.gauss(0, 5e-6)
        lon += rng.gauss(0, 8e-6)
    return times, lats, lons, heights


def bare(arrays: tuple[array[float], ...], moments: list[float]) -> list[tuple[float, float, float]]:
    """Return the interpolated places, nothing judged."""
    times, lats, lons, heights = arrays
    out = []
    for at_s in moments:
        after = bisect_right(times, at_s)
        before = after - 1
        share = (at_s - times[before]) / (times[after] - times[before])
        out.append(
            (
                lats[before] + (lats[after] - lats[before]) * share,
                lons[before] + (lons[after] - lons[before]) * share,
                heights[before] + (heights[after] - heights[before]) * share,
            )
        )
    return out


def main() -> None:
    """Check that both give the same places, then time them."""
    tell_machine()
    arrays = made_arrays(POINTS)
    short = tuple(values[: POINTS // 10] for values in arrays)
    rng = random.Random(8)
    moments = sorted(rng.uniform(arrays[0][0], arrays[0][-2]) for _ in range(PHOTOS))
    short_moments = sorted(rng.uniform(short[0][0], short[0][-2]) for _ in range(PHOTOS))
    nothing_unsure: list[frozenset[int]] = [frozenset()]
    line, short_line = make_timed_line([arrays], nothing_unsure), make_timed_line([short], nothing_unsure)
    for at_s, (lat, lon, height_m) in zip(moments, bare(arrays, moments), strict=True):
        got = place_photo(line, at_s)
        assert isinstance(got, Placed), got
        assert abs(got.lat - lat) < 1e-12
        assert abs(got.lon - lon) < 1e-12
        assert got.height_m is not None
        assert abs(got.height_m - height_m) < 1e-9

    def from_arrays(rising: list[bool] | None) -> None:
        ready = make_timed_line([arrays], nothing_unsure, rising)
        for at_s in moments:
            place_photo(ready, at_s)

    took = compare(
        "Photos placed on a track of 1M points",
        {
            "bare bisect and interpolation": Case(lambda _: bare(arrays, moments)),
            "ours, track ready": Case(lambda _: [place_photo(line, at_s) for at_s in moments]),
            "ours, made ready as well, after our reader": Case(lambda _: from_arrays([True])),
            "ours, made ready as well, times looked at": Case(lambda _: from_arrays(None)),
            "ours, a tenth of the track, ready": Case(lambda _: [place_photo(short_line, s) for s in short_moments]),
        },
        PHOTOS,
        "photo",
        rounds=9,
    )
    bare_s = took["bare bisect and interpolation"]
    judge("photos placed / bare loop, track ready", took["ours, track ready"] / bare_s, 2)
    judge("the same, made ready after our reader", took["ours, made ready as well, after our reader"] / bare_s, 2)
    judge("the same, a million times looked at first", took["ours, made ready as well, times looked at"] / bare_s, 2)
    judge("10 x the track", took["ours, track ready"] / took["ours, a tenth of the track, ready"], 2)


if __name__ == "__main__":
    main()
