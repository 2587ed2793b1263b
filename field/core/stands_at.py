"""Where a tree stands now: in a garden once it is lifted, on its ground before. Twin: `static/js/core/stands_at.js`.

A tree that is told to stand in a garden stands there. Of the others those that were lifted, and a keeper's trees, stand
in the main garden, or in the only one there is; with several gardens of which none is the main one, or with none at
all, the ground they were found on has to do, as for every tree that was not lifted.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping


def main_garden(gardens: Iterable[Mapping[str, object]]) -> str | None:
    """Return the id of the garden where trees stand unless told otherwise, or None when that cannot be said.

    Args:
        gardens: merged records with "id", deleted ones left out, in any order. Of several that are called the main
            one, as two phones may do, the lowest id counts.
    """
    kept = {str(one["id"]): one.get("is_main") is True for one in gardens}
    main = sorted(garden for garden, is_main in kept.items() if is_main)
    if main:
        return main[0]
    return next(iter(kept)) if len(kept) == 1 else None


def stands_at(tree: Mapping[str, object], *, is_lifted: bool, gardens: Iterable[str], main: str | None) -> str | None:
    """Return the id of the garden or site where a tree stands; None when neither is told.

    Args:
        tree: merged tree record.
        is_lifted: it has a lift that is not deleted.
        gardens: ids of the gardens there are: one that was removed holds no trees.
        main: from `main_garden`.
    """
    told, site = tree.get("stands_at"), tree.get("site")
    if isinstance(told, str) and told in gardens:
        return told
    if main is not None and (is_lifted or tree.get("origin") == "client"):
        return main
    return site if isinstance(site, str) else None
