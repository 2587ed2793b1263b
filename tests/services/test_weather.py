"""What is kept of a place's weather comes back as days."""

from __future__ import annotations

import datetime as dt

from flask import Flask

from field.core.weather import Day
from field.core.weather_day import weather_day_id
from field.services.weather import days_of
from field.services.write_changes import write_changes

PLACE = "0b0e7c6e-2f3a-4d55-9d0c-6f7f1a2b3c4d"
OTHER = "0b0e7c6e-2f3a-4d55-9d0c-6f7f1a2b3c4e"


def test_days_of_one_place_come_in_order_and_those_of_others_and_removed_ones_do_not(store: Flask) -> None:
    days = [(PLACE, "2026-01-02", -3.5, 0), (PLACE, "2026-01-01", 1, 6), (OTHER, "2026-01-01", 9, 9)]
    write_changes(
        [
            ("weather_day", weather_day_id(place, on), {"site": place, "day_on": on, "tmin_c": low, "tmax_c": high})
            for place, on, low, high in days
        ]
    )
    assert days_of(PLACE) == [Day(dt.date(2026, 1, 1), 1.0, 6.0), Day(dt.date(2026, 1, 2), -3.5, 0.0)]
    write_changes([("weather_day", weather_day_id(PLACE, "2026-01-01"), {"deleted": True})])
    assert days_of(PLACE) == [Day(dt.date(2026, 1, 2), -3.5, 0.0)]
    assert days_of("00000000-0000-4000-8000-000000000000") == []
