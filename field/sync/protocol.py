"""What a sync message is: the checks of its frame, in sentences. What a change in it means is told elsewhere."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from field.core.errors import BadInput
from field.core.units import WHOLE_LIMIT
from field.sync.change import UUID

PROTOS = (1,)
MIN_PROTO = 1
MOST_OPS = 200  # changes in one request
MOST_WANT = 500  # changes in one answer
APP = re.compile(r"[0-9A-Za-z.+-]{1,64}", re.ASCII)

OK = "ok"
DUP = "dup"
HELD = "held"
BAD = "bad"


@dataclass(frozen=True, slots=True)
class Request:
    """One checked request of a phone."""

    proto: int
    device: str
    epoch: str | None
    cursor: int  # the last place of the server's journal that the phone has
    have: Mapping[str, int]
    ops: tuple[Any, ...]
    want: int
    app: str | None = None  # the version of the app on the phone


def read_request(request: object) -> Request:
    """Return a checked request.

    Args:
        request: the JSON body. "proto" and "device" must be there; the rest may be missing.
    Raises: BadInput with the place of the fault.
    """
    if not isinstance(request, Mapping):
        raise _bad("The request is not a set of named facts.", None)
    proto = request.get("proto")
    if isinstance(proto, bool) or not isinstance(proto, int):
        raise _bad("The request does not say which protocol it speaks.", "proto")
    device = request.get("device")
    if not isinstance(device, str) or UUID.fullmatch(device) is None:
        raise _bad("The request does not say which device it comes from.", "device")
    epoch = request.get("epoch")
    if epoch is not None and not isinstance(epoch, str):
        raise _bad("The epoch is not text.", "epoch")
    ops = request.get("ops")
    if ops is None:
        ops = []
    if not isinstance(ops, list):
        raise _bad("The changes are not a list.", "ops")
    if len(ops) > MOST_OPS:
        raise _bad(f"There are more than {MOST_OPS} changes in one request.", "ops")
    return Request(
        proto=proto,
        device=device,
        epoch=epoch,
        cursor=_read_count(request.get("cursor"), 0, "cursor"),
        have=_read_have(request.get("have")),
        ops=tuple(ops),
        want=min(MOST_WANT, _read_count(request.get("want"), MOST_WANT, "want")),
        app=_find_app(request.get("app")),
    )


def _read_have(value: object) -> Mapping[str, int]:
    if value is None:
        return {}
    if not isinstance(value, Mapping) or not all(isinstance(dev, str) for dev in value):
        raise _bad("What the phone has is not a set of named numbers.", "have")
    return {dev: _read_count(seq, 0, f"have.{dev}") for dev, seq in value.items()}


def _find_app(value: object) -> str | None:
    # Only told on, never judged by: what is none is left out, and stops no sync.
    return value if isinstance(value, str) and APP.fullmatch(value) is not None else None


def _read_count(value: object, usual: int, where: str) -> int:
    if value is None:
        return usual
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value < WHOLE_LIMIT:
        raise _bad(f"“{where}” is not a whole number of 0 or more.", where)
    return value


def _bad(sentence: str, where: str | None) -> BadInput:
    return BadInput(sentence, "Update Fellside on the phone.", where, code="bad-request")
