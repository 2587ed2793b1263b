"""Dates are days of a place, instants are moments for everyone; both are read strictly."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from field.core import dates
from field.core.errors import BadInput


def test_a_date_is_read() -> None:
    assert dates.read_date("2027-02-14", "The day", "on") == date(2027, 2, 14)
    assert dates.read_date(date(2027, 2, 14), "The day", "on") == date(2027, 2, 14)


@pytest.mark.parametrize("text", ["2028-02-29", "2000-02-29", "0001-01-01", "9999-12-31"])
def test_days_that_there_are(text: str) -> None:
    assert dates.read_date(text, "The day", "on").isoformat() == text


@pytest.mark.parametrize(
    "given",
    [
        "2027-02-29", "1900-02-29", "2027-04-31", "2027-00-10", "2027-13-01", "2027-01-00", "0000-01-01",
        "2027-2-14", "20270214", "2027-W06-7", " 2027-02-14", "2027-02-14\n", "2027-02-14T00:00:00Z", "",
        "٢٠٢٧-٠٢-١٤", 20270214, None, datetime(2027, 2, 14, tzinfo=UTC),
    ],
)  # fmt: skip
def test_what_is_no_day_is_refused(given: object) -> None:
    with pytest.raises(BadInput) as refused:
        dates.read_date(given, "The day", "on")
    assert refused.value.where == "on"


def test_a_date_that_is_not_given_is_none() -> None:
    assert dates.find_date(None, "The day", "on") is None
    with pytest.raises(BadInput):
        dates.find_date("", "The day", "on")


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        ("2027-06-30T23:30:00Z", datetime(2027, 6, 30, 23, 30, tzinfo=UTC)),
        ("2027-06-30T23:30Z", datetime(2027, 6, 30, 23, 30, tzinfo=UTC)),
        ("2027-06-30T23:30:59.125Z", datetime(2027, 6, 30, 23, 30, 59, 125000, tzinfo=UTC)),
        ("2027-06-30T23:30:59.123456789Z", datetime(2027, 6, 30, 23, 30, 59, 123456, tzinfo=UTC)),
        ("2027-07-01T00:30:00+01:00", datetime(2027, 6, 30, 23, 30, tzinfo=UTC)),
        ("2027-06-30T18:00:00-05:30", datetime(2027, 6, 30, 23, 30, tzinfo=UTC)),
    ],
)
def test_an_instant_is_read_into_utc(text: str, utc: datetime) -> None:
    got = dates.read_instant(text, "The moment", "now")
    assert got == utc
    assert got.utcoffset() == timedelta(0)


@pytest.mark.parametrize(
    "given",
    [
        "2027-06-30T23:30:00", "2027-06-30 23:30:00Z", "2027-06-30", "2027-06-30T24:00:00Z", "2027-06-30T23:60:00Z",
        "2027-06-30T23:30:60Z", "2027-02-30T10:00:00Z", "2027-06-30T23:30:00+24:00", "2027-06-30T23:30:00+01:60",
        "2027-06-30T23:30:00+0100", "0001-01-01T00:00:00+01:00", "9999-12-31T23:59:59-01:00", "", None, 1800000000,
        datetime(2027, 6, 30),  # noqa: DTZ001  a moment without its zone is what is refused here
    ],
)  # fmt: skip
def test_what_is_no_instant_is_refused(given: object) -> None:
    with pytest.raises(BadInput) as refused:
        dates.read_instant(given, "The moment", "now")
    assert refused.value.where == "now"


@pytest.mark.parametrize(
    ("instant", "zone", "day"),
    [
        ("2027-06-30T22:59:59Z", "Europe/London", date(2027, 6, 30)),
        ("2027-06-30T23:00:00Z", "Europe/London", date(2027, 7, 1)),
        ("2027-01-31T23:59:59Z", "Europe/London", date(2027, 1, 31)),
        ("2027-04-01T05:00:00Z", "America/Vancouver", date(2027, 3, 31)),
        ("2027-02-14T11:00:00Z", "Pacific/Kiritimati", date(2027, 2, 15)),
        ("2027-02-14T10:59:59Z", "Pacific/Pago_Pago", date(2027, 2, 13)),
    ],
)
def test_an_instant_falls_on_the_day_of_the_place(instant: str, zone: str, day: date) -> None:
    assert dates.local_date(dates.read_instant(instant, "The moment", "now"), dates.read_zone(zone)) == day


def test_a_moment_at_the_end_of_the_calendar_is_refused() -> None:
    last = datetime(9999, 12, 31, 23, 0, tzinfo=UTC)
    with pytest.raises(BadInput):
        dates.local_date(last, dates.read_zone("Pacific/Kiritimati"))


@pytest.mark.parametrize(
    "given", [None, "", "Europe/Nowhere", "../etc/passwd", "/etc/localtime", "Europe", "+01:00", 5]
)
def test_what_is_no_zone_is_refused(given: object) -> None:
    with pytest.raises(BadInput) as refused:
        dates.read_zone(given)
    assert refused.value.where == "zone"


def test_days_are_counted_over_leap_days_and_backwards() -> None:
    assert dates.days_between(date(2028, 2, 27), date(2028, 3, 1)) == 3
    assert dates.days_between(date(2027, 2, 27), date(2027, 3, 1)) == 2
    assert dates.days_between(date(2027, 3, 1), date(2027, 2, 27)) == -2


def test_a_date_is_shown_in_words() -> None:
    assert dates.show_date(date(2027, 2, 3)) == "3 February 2027"


def test_an_instant_has_one_written_form() -> None:
    there = datetime(2027, 7, 1, 0, 30, 1, 999999, tzinfo=timezone(timedelta(hours=1)))
    assert dates.instant_text(there) == "2027-06-30T23:30:01.999Z"


@given(st.datetimes(min_value=datetime(1, 1, 2), max_value=datetime(9999, 12, 30), timezones=st.just(UTC)))  # noqa: DTZ001
def test_what_is_written_is_read_again(instant: datetime) -> None:
    whole = instant.replace(microsecond=instant.microsecond // 1000 * 1000)
    text = dates.instant_text(instant)
    assert dates.read_instant(text, "The moment", "now") == whole


@pytest.mark.parametrize("name", ["Europe/London", "europe/london", "EUROPE/LONDON", "utc", "est5edt"])
def test_a_zone_is_known_in_any_letter_case(name: str) -> None:
    assert dates.read_zone(name).key.lower() == name.lower()


@pytest.mark.parametrize("name", ["localtime", "posix/Europe/London", "right/UTC", "Europe", "IST", "posixrules"])
def test_what_only_a_machine_takes_for_a_zone_is_none(name: str) -> None:
    with pytest.raises(BadInput):
        dates.read_zone(name)
