"""What a request brings, read with a bound; and answers made smaller for a weak signal."""

from __future__ import annotations

import gzip
import json
import zlib
from typing import Any, NoReturn

from flask import Response, g, request

from field.core.errors import BadInput, TooLarge
from field.web import at_once

MIB = 1024 * 1024
PIECE = 16 * 1024  # common practice: small enough that a slow phone never holds much memory here
MOST_PASSED_OVER = 16 * MIB  # more is cut off after all
MOST_WHOLE = MIB  # a file up to that size is handed over in one; see `whole_if_small`
SMALLEST_TO_PACK = 1024  # below about one network packet there is nothing to gain


def read_bounded(limit: int) -> bytes:
    """Return the body of the request as it came, in pieces.

    Args:
        limit: bytes; one more is refused before it is kept.
    Raises: TooLarge; Busy, or TooManyTries for who is not paired, when others are still sending (see `at_once`).
    """
    if request.content_length is not None and request.content_length > limit:
        raise _too_large(limit)
    with at_once.sending(g.get("device")):
        return _read(limit)


def _read(limit: int) -> bytes:
    parts: list[bytes] = []
    size = 0
    while piece := request.stream.read(PIECE):
        size += len(piece)
        if size > limit:
            raise _too_large(limit)
        parts.append(piece)
    return b"".join(parts)


def pass_over() -> None:
    """Read what is left of the body and forget it, within a bound; for an answer that comes before the body is read.

    A phone that is still sending when the answer comes would see a broken connection, and not why it was refused.
    """
    if not request.environ.get("wsgi.input_terminated"):
        return  # nothing tells where the body ends: reading on could wait for ever
    with at_once.hearing_out() as may:
        if may:
            _skip()


def _skip() -> None:
    left = MOST_PASSED_OVER
    while left > 0 and (piece := request.environ["wsgi.input"].read(PIECE)):
        left -= len(piece)


def read_json(limit: int = MIB, *, any_sign: bool = False) -> dict[str, Any]:
    """Return the JSON object that the request brings, unpacked if it came packed.

    Args:
        limit: bytes, of the body as it came and again of what it unpacks to.
        any_sign: take half of a surrogate pair too, which is legal in JSON and is no text. Only for changes: one such
            sign in a note must not keep a whole batch out.
    Raises: BadInput when it is no JSON object in UTF-8, or packed in a way not known here; TooLarge.
    """
    body = read_bounded(limit)
    packing = (request.content_encoding or "identity").strip().lower()
    if packing == "gzip":
        body = unpack(body, limit)
    elif packing != "identity":
        raise BadInput("What was sent is packed in a way that is not known here.", "Use gzip.", code="wrong-type")
    try:
        got = json.loads(body.decode("utf-8"), parse_constant=_no_such_number)
        if not any_sign:
            json.dumps(got, ensure_ascii=False).encode("utf-8")
    except (ValueError, RecursionError):
        raise BadInput("What was sent is not JSON that can be read.", code="bad-request") from None
    if not isinstance(got, dict):
        raise BadInput("What was sent is not a JSON object.", code="bad-request")
    return got


def unpack(body: bytes, limit: int) -> bytes:
    """Return what a gzip body unpacks to.

    Args:
        body: one gzip stream, whole.
        limit: bytes; unpacking stops there, so that a small body cannot fill the memory.
    Raises: BadInput when it is damaged or cut off; TooLarge.
    """
    stream = zlib.decompressobj(wbits=16 + zlib.MAX_WBITS)
    try:
        got = stream.decompress(body, limit + 1)
    except zlib.error:
        raise BadInput("What was sent says it is gzip and cannot be unpacked.", code="bad-request") from None
    if len(got) > limit:
        raise _too_large(limit)
    if not stream.eof or stream.unused_data:
        raise BadInput("What was sent says it is gzip and is cut off or has more after it.", code="bad-request")
    return got


def whole_if_small(answer: Response) -> None:
    """Hand a small file over as a whole: read bit by bit, it would hold a thread for as long as its reader likes."""
    if answer.direct_passthrough and (answer.content_length or 0) <= MOST_WHOLE:
        file: Any = answer.response
        answer.direct_passthrough = False
        answer.make_sequence()
        file.close()


def pack_answer(answer: Response) -> Response:
    """Return an answer packed with gzip where that helps and the other side takes it."""
    if (
        answer.mimetype != "application/json"
        or answer.direct_passthrough
        or "Content-Encoding" in answer.headers
        or request.method == "HEAD"
    ):
        return answer
    answer.vary.add("Accept-Encoding")
    body = answer.get_data()
    if len(body) > SMALLEST_TO_PACK and request.accept_encodings["gzip"] > 0:
        answer.set_data(gzip.compress(body, compresslevel=6, mtime=0))
        answer.headers["Content-Encoding"] = "gzip"
    return answer


def _too_large(limit: int) -> TooLarge:
    return TooLarge(f"What was sent is larger than {limit // 1024} KiB.", "Send it in smaller parts.")


def _no_such_number(name: str) -> NoReturn:
    raise ValueError(name)
