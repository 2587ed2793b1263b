"""From what went wrong to what is answered: this module alone knows which status a code has.

Every /api route answers one shape, {"error": {"code", "message", "cure", "where"}}; every other address one sentence.
What a database or a library said never leaves the house: it goes to the server's own log.
"""

from __future__ import annotations

from html import escape

from flask import Flask, Response, current_app, jsonify, request
from werkzeug.exceptions import HTTPException

from field.core import errors
from field.core.errors import FellsideError
from field.web.body import pass_over

STATUS_OF_KIND: dict[type[FellsideError], int] = {
    errors.BadInput: 400,
    errors.TooLarge: 413,
    errors.NotFound: 404,
    errors.NotPaired: 401,
    errors.NotAllowed: 403,
    errors.TooManyTries: 429,
    errors.Busy: 503,
    errors.Conflict: 409,
    errors.TooOld: 426,
    errors.NoRoom: 507,
    errors.StoreTrouble: 503,
}
# Codes that stand for more than their kind says.
STATUS_OF_CODE = {
    "hash-wrong": 422,
    "wrong-type": 415,
}

# What the framework itself refuses: status -> code, sentence, cure.
OF_STATUS: dict[int, tuple[str, str, str | None]] = {
    400: ("bad-request", "The request could not be read.", None),
    404: ("not-found", "There is nothing at this address.", "Open Fellside from its first page."),
    405: ("wrong-method", "This address does not take that kind of request.", None),
    413: ("too-large", "What was sent is larger than is taken in at once.", "Send it in smaller parts."),
    415: ("wrong-type", "What was sent is of a kind that is not taken in here.", None),
}
FAULT = (
    "server-fault",
    "Something went wrong in the server; what was asked for was not done.",
    "Try once more; if it stays, the server's own log says more.",
)


def status_of(error: FellsideError) -> int:
    """Return the HTTP status of an error: by its code where that says more, else by its kind, else 400."""
    if error.code in STATUS_OF_CODE:
        return STATUS_OF_CODE[error.code]
    return next((STATUS_OF_KIND[kind] for kind in type(error).__mro__ if kind in STATUS_OF_KIND), 400)


def _is_api() -> bool:
    return request.path.startswith("/api/") or request.path == "/api"


def _answer(error: FellsideError, status: int) -> Response:
    pass_over()
    if _is_api():
        answer = jsonify(error.as_json())
    else:
        said = escape(" ".join(filter(None, (error.message, error.cure))))
        head = '<!doctype html>\n<html lang="en-GB"><meta charset="utf-8"><title>Fellside</title>'
        answer = Response(f"{head}\n<p>{said}</p></html>\n", content_type="text/html; charset=utf-8")
    answer.status_code = status
    answer.headers["Cache-Control"] = "no-store"
    if status == 401:
        answer.headers["WWW-Authenticate"] = "Bearer"
    if isinstance(error, errors.TooManyTries | errors.Busy):
        answer.headers["Retry-After"] = str(error.retry_after_s)
    return answer


def answer_error(error: FellsideError) -> Response:
    """Return the answer to an error of ours; an upload's own headers are added by its view."""
    return _answer(error, status_of(error))


def _answer_refusal(refusal: HTTPException) -> Response | HTTPException:
    status = refusal.code or 500
    if status < 400:
        return refusal  # a redirect is no error
    code, message, cure = OF_STATUS.get(status, OF_STATUS[400] if status < 500 else FAULT)
    answer = _answer(FellsideError(code, message, cure), status)
    allowed = refusal.get_response().headers.get("Allow")
    if allowed:
        answer.headers["Allow"] = allowed
    return answer


def _answer_fault(fault: Exception) -> Response:
    current_app.logger.error("%s %s failed", request.method, request.path, exc_info=fault)
    return _answer(FellsideError(*FAULT), 500)


def init_app(app: Flask) -> None:
    """Have every error of an app answered in the one shape."""
    app.register_error_handler(FellsideError, answer_error)
    app.register_error_handler(HTTPException, _answer_refusal)
    app.register_error_handler(Exception, _answer_fault)
