"""The verbs of the season: when each work is safe for a kind of tree, and how long a box may last."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial

from field.verbs.call import DONE, Args, local_today, open_store, say


def run_windows(args: Args) -> int:
    """Say when each work is safe at a place; by the person's own cards where a data folder is there."""
    from field.services.ask_windows import ask_windows, tell_windows

    first = args.from_on or local_today()
    document = ask_windows(
        args.kind, args.lat, args.lon, args.height, first, args.days, _own_cards(args), args.own_days
    )
    say(args, document, tell_windows)
    return DONE


def run_drying(args: Args) -> int:
    """Say how long a box may last on a day like this one."""
    from field.services.ask_drying import ask_drying, tell_drying

    document = ask_drying(
        args.tmin,
        args.tmax,
        args.lat,
        args.on,
        args.box_l,
        args.canopy_cm,
        args.kind,
        args.mix,
        state=args.state,
        depth_cm=args.depth_cm,
        own_cards=_own_cards(args),
    )
    say(args, document, partial(tell_drying, state=args.state))
    return DONE


def _own_cards(args: Args) -> Sequence[Mapping[str, object]]:
    """Return the person's own cards; none where no data folder was named and none is there."""
    from field.services.ask_windows import list_own_cards
    from field.store import db
    from field.web.app import find_data_dir, find_database

    if args.data is None and find_database() is None:
        usual = find_data_dir(None)
        if not usual.is_dir() or not any(usual.iterdir()) or not db.holds_log(usual):
            return ()
    with open_store(args):
        return list_own_cards()
