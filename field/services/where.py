"""Says where a typed place is, in every notation, and when the sun rises and sets there."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from field.core.gridref import notations, read_position
from field.core.sun import solar_date, sun_times

# Degrees name a point: every notation then goes down to a metre, or as fine as it can vouch for.
POINT_M = 1.0
SHOWN = ("dms", "utm", "mgrs", "gb_grid", "irish_grid")
SUN_SHOWN = ("sunrise", "solar_noon", "sunset", "civil_dusk")


def where(text: str, on: date | None, height_m: float, now: datetime) -> dict[str, Any]:
    """Return a place in every notation with the times of the sun.

    Args:
        text: the place as typed, see `gridref.read_position`.
        on: the local day; None for the one that `now` belongs to there.
        height_m: above what bounds the view, see `sun.sun_times`.
        now: aware.
    Returns: {"lat", "lon", "dms", "utm", "mgrs", "gb_grid", "irish_grid", "sun": {"sunrise", "solar_noon", "sunset",
        "civil_dusk"}}; None under a notation that does not apply there and under what the sun does not do that day;
        instants as text in UTC.
    Raises: BadInput if the place, the day or the height cannot be used.
    """
    read = read_position(text)
    lat, lon = read["lat"], read["lon"]
    shown = notations(lat, lon, POINT_M if read["square_m"] is None else read["square_m"])
    times = sun_times(solar_date(now, lon) if on is None else on, lat, lon, height_m)
    return {
        "lat": lat,
        "lon": lon,
        **{name: shown[name] for name in SHOWN},
        "sun": {name: _instant_text(getattr(times, name)) for name in SUN_SHOWN},
    }


def _instant_text(at: datetime | None) -> str | None:
    # Whole seconds: the times are not known better.
    return None if at is None else at.replace(tzinfo=None).isoformat(timespec="seconds") + "Z"
