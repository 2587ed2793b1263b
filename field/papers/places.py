"""How exactly a paper may tell where a tree stood: to whoever it goes, and in which words.

Places of good trees are worth stealing. Whoever gave the leave, or holds the ground, is told exactly; anybody else gets
the square of a kilometre. This is decided here and nowhere else.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from field.core.geodesy import wrap_lon
from field.core.gridref import notations

COARSE_M = 1000.0
GRIDS = ("gb_grid", "irish_grid", "utm")  # the first that applies is what people of the place use
SQUARES = ("gb_grid", "irish_grid", "mgrs")  # those that name a square, not a point
USUAL_M = 10.0  # where the accuracy is not known


def may_know_exactly(
    reader: str | None,
    of: Mapping[str, object],
    leaves: Iterable[Mapping[str, object]],
    holdings: Iterable[Mapping[str, object]],
) -> bool:
    """Return whether a landholder may be told exactly where a lift was, or where a tree stands.

    Args:
        reader: id of the landholder the paper goes to; None for anybody else.
        of: fields of the lift or tree: "leave" where it has one, and "site".
        leaves, holdings: records with "id", deleted ones left out.
    Returns: True where the reader gave the very leave, or is recorded as holding the site. What is not recorded counts
        as no.
    """
    if reader is None:
        return False
    leave, site = of.get("leave"), of.get("site")
    gave = any(one.get("id") == leave and one.get("landholder") == reader for one in leaves if leave is not None)
    holds = any(one.get("site") == site and one.get("landholder") == reader for one in holdings if site is not None)
    return gave or holds


def place_words(lat: object, lon: object, accuracy_m: object = None, *, exact: bool) -> str:
    """Return a place as a grid reference; not exact: the square of a kilometre it lies in, and said so.

    Returns: "" where the position is not known.
    """
    if not isinstance(lat, (int, float)) or not isinstance(lon, (int, float)):
        return ""
    here = (float(lat), wrap_lon(float(lon)))
    square = COARSE_M
    if exact:
        square = accuracy_m if isinstance(accuracy_m, (int, float)) and accuracy_m > 0 else USUAL_M
    told = notations(*here, square)
    # Degrees stand where no grid reaches; two decimals of a latitude are 1.1 km.
    degrees = told["decimal"] if exact else f"{here[0]:.2f}, {here[1]:.2f}"
    grid = next((words for name in (GRIDS if exact else SQUARES) if (words := told[name])), degrees) or ""
    return grid if exact else f"within the 1 km square {grid}"
