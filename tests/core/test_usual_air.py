"""What the air usually takes where no weather is logged: more in summer, less up high, and never a refusal."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from field.core.errors import BadInput
from field.core.usual_air import usual_air


def test_summer_takes_more_than_winter_in_the_south_the_other_way_about() -> None:
    july, january = date(2026, 7, 15), date(2026, 1, 15)
    assert usual_air(52, july).et0_mm_d[0] > usual_air(52, january).et0_mm_d[1]
    assert usual_air(-40, january).et0_mm_d[0] > usual_air(-40, july).et0_mm_d[0]


def test_a_thousand_metres_up_it_is_six_and_a_half_degrees_colder() -> None:
    low, high = (usual_air(46, date(2026, 7, 15), height) for height in (0, 1000))
    assert low.mean_c[0] - high.mean_c[0] == pytest.approx(6.5)
    assert low.et0_mm_d[1] > high.et0_mm_d[1]


@given(
    st.floats(-90, 90), st.dates(date(2020, 1, 1), date(2030, 1, 1)), st.none() | st.floats(-1e6, 1e6, allow_nan=False)
)
def test_every_place_has_a_range_in_order(lat: float, on: date, height: float | None) -> None:
    low, high = usual_air(lat, on, height).et0_mm_d
    assert 0 <= low <= high < 15


def test_a_latitude_that_no_place_has_is_refused() -> None:
    with pytest.raises(BadInput, match="latitude of 91"):
        usual_air(91, date(2026, 7, 1))
