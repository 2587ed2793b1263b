"""Says when each work is safe for a kind of tree at a place: the document of the verb `windows`, and its lines."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from field.core.card import WORKS
from field.core.errors import BadInput
from field.core.geodesy import read_position
from field.core.species import get_card, load_cards
from field.core.windows import as_date, climate_at, dated_windows, why_none, words_for_date
from field.store import queries

USUAL_DAYS = 400  # as far as the pack of the hill looks


def ask_windows(
    kind: str,
    lat: float,
    lon: float,
    height_m: float | None,
    from_on: dt.date,
    days: int = USUAL_DAYS,
    own_cards: Iterable[Mapping[str, object]] = (),
    own_days: int | None = None,
) -> dict[str, Any]:
    """Return the dated windows of every work for a kind of tree at a place.

    Args:
        kind: short name of a species card.
        lat, lon: degrees, WGS 84.
        height_m: above the sea; None when not known.
        from_on, days: the days that a window has to touch.
        own_cards: the person's own cards, as `species.load_cards` takes them.
        own_days: how many days later than the cards the seasons run, by the person's own count; None: by the place.
    Returns: {"kind", "works": {work: [window, ...]}, "never": {work: why it has none}}.
    Raises: NotFound for a kind that is not known, with near names; BadInput for a place or day that cannot be.
    """
    if not 1800 <= from_on.year <= 9000:
        raise BadInput(f"Nothing is reckoned for the year {from_on.year}.", "Give one from 1800 to 9000.", "from")
    card = get_card(load_cards(own_cards), kind)
    lat, _ = read_position(lat, lon)
    climate = climate_at(lat, height_m, own_days)
    works = {work: dated_windows(card, work, lat, height_m, from_on, days, own_days=own_days) for work in WORKS}
    never = {work: why_none(card, work, climate) for work in WORKS}
    return {"kind": card.kind, "works": works, "never": {work: why for work, why in never.items() if why is not None}}


def list_own_cards() -> Sequence[Mapping[str, object]]:
    """Return the cards that the person made or changed, out of the open store."""
    return queries.list_records("species_card")


def tell_windows(document: Mapping[str, Any]) -> Iterator[str]:
    """Yield the windows as lines for a person at a terminal."""
    for work, windows in document["works"].items():
        if work in document["never"]:
            yield f"{work}: never. {document['never'][work]}"
            continue
        if not windows:
            yield f"{work}: none in these days"
        for window in windows:
            opens, closes = (words_for_date(as_date(window[edge])) for edge in ("opens", "closes"))
            hard = [word for word, key in (("opening", "hard_open"), ("close", "hard_close")) if window[key]]
            said = f" (a hard {' and '.join(hard)})" if hard else ""
            yield f"{work}: {opens} to {closes}{said}"
            yield f"  opens: {window['why_opens']}"
            yield f"  closes: {window['why_closes']}"
            yield f"  source: {window['source']}"
            if window["other"] is not None:
                yield f"  not all agree: {window['other']}"
