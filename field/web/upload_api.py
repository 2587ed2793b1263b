"""Photos, tracks and papers, in pieces and under the name of their content.

The header names are those of the IETF draft on resumable uploads; conformance to it is not claimed. An upload's place
is the length of the bytes on the disk: asked with HEAD, gone on from with PATCH.
"""

from __future__ import annotations

import re

from flask import Blueprint, Response, g, request, send_file

from field.core.errors import BadInput, TooLarge
from field.services import keep_blob, keep_room, small_ahead, who_sees
from field.web import at_once
from field.web.body import MOST_WHOLE, read_bounded
from field.web.errors import answer_error
from field.web.sync_api import FOR_EVER

bp = Blueprint("upload", __name__)

PIECE_TYPE = "application/partial-upload"
SHOWN_IN_PLACE = "image/"  # anything else is handed over to be kept, and never opened as a page of this address
ALONE = "default-src 'none'; sandbox"
COUNT = re.compile(r"[0-9]{1,15}", re.ASCII)


def _place(answer: Response, offset: int, *, complete: bool) -> Response:
    answer.headers["Upload-Offset"] = str(offset)
    answer.headers["Upload-Complete"] = "?1" if complete else "?0"
    answer.headers["Cache-Control"] = "no-store"
    return answer


def _count(name: str) -> int:
    value = request.headers.get(name, "")
    if not COUNT.fullmatch(value):
        raise BadInput(f"A piece needs its {name} in bytes.", where=name, code="bad-request")
    return int(value)


@bp.get("/api/blob/<sha256>")  # HEAD as well: it asks only for the place
def blob(sha256: str) -> Response:
    """Say how much of a file is here; or send it, when it is whole."""
    if request.method == "HEAD":
        here = keep_blob.offset(sha256)
        return _place(Response(status=200), here.offset, complete=here.complete)
    who_sees.check_blob(sha256, g.device, g.role)
    found = keep_blob.open_blob(sha256)
    give_back = at_once.fetching(g.device) if found.size_bytes > MOST_WHOLE else None
    is_picture = found.media_type.startswith(SHOWN_IN_PLACE)
    answer = send_file(found.path, found.media_type, as_attachment=not is_picture, download_name=sha256, etag=sha256)
    if give_back is not None:
        answer.direct_passthrough = False  # else the server would close the file only, and not the answer
        answer.call_on_close(give_back)
    answer.headers["Cache-Control"] = FOR_EVER
    answer.headers["Content-Security-Policy"] = ALONE  # what a paper holds was made by strangers
    return answer


@bp.patch("/api/blob/<sha256>")
def piece(sha256: str) -> Response:
    """Take the next piece of a file."""
    if request.mimetype != PIECE_TYPE:
        raise BadInput("A piece of a file has another content type.", f"Send it as {PIECE_TYPE}.", code="wrong-type")
    offset, total = _count("Upload-Offset"), _count("Upload-Length")
    if (request.content_length or 0) > keep_blob.MOST_PIECE:
        raise TooLarge(f"A piece has at most {keep_blob.MOST_PIECE // 1024} KiB.", "Send smaller pieces.")
    who_sees.check_upload(sha256, g.device, g.role)
    keep_room.need_room(max(0, min(total, keep_blob.MOST_BLOB) - offset))
    # One byte more than a piece may have, which `append` refuses: a server that marks the end of the body itself would
    # else have the framework refuse a whole piece when it looks for more after the last byte.
    request.max_content_length = keep_blob.MOST_PIECE + 1
    try:
        with at_once.sending(g.device):
            here = keep_blob.append(sha256, offset, total, request.stream, g.device)
    except keep_blob.WrongOffset as wrong:
        return _place(answer_error(wrong), wrong.offset, complete=wrong.complete)
    return _place(Response(status=204), here.offset, complete=here.complete)


@bp.get("/api/blob/<sha256>/preview")
def preview(sha256: str) -> Response:
    """Send the small picture of a photo: upright, and with no place or time in it."""
    who_sees.check_blob(sha256, g.device, g.role)
    ahead = small_ahead.find(sha256)
    if ahead is not None:
        answer = send_file(ahead, mimetype="image/jpeg", etag=False, last_modified=None)
        answer.headers["Cache-Control"] = "no-store"  # another takes its place when the photo comes
        return answer
    answer = send_file(keep_blob.preview(sha256), mimetype="image/jpeg", etag=f"{sha256}-preview")
    answer.headers["Cache-Control"] = FOR_EVER
    return answer


@bp.put("/api/blob/<sha256>/preview")
def small_ahead_of_photo(sha256: str) -> Response:
    """Take the small picture of a photo that is still to come."""
    if request.mimetype != "image/jpeg":
        raise BadInput("A small picture has another content type.", "Send it as image/jpeg.", code="wrong-type")
    who_sees.check_upload(sha256, g.device, g.role)
    small_ahead.take(sha256, read_bounded(small_ahead.MOST_BYTES))
    return Response(status=204)
