"""What can go wrong, as one clear sentence with its cure and its place.

Every error a person can meet is one of these. The web layer alone maps `code` to a status; the command line
prints `message` and `cure`. A sentence says what is wrong in the words of the trade, never in those of the code.
"""

from __future__ import annotations

from typing import ClassVar


class FellsideError(Exception):
    """The root of all errors that are meant to be read by a person.

    Args:
        code: short lower-case fact with hyphens, stable: programs compare it.
        message: one full sentence, ending with a full stop.
        cure: what the person can do about it; None when there is nothing to say.
        where: the place of the fault in the input ('here.lat', 'leaves[0].area'); None when there is no one place.
    """

    def __init__(self, code: str, message: str, cure: str | None = None, where: str | None = None) -> None:
        super().__init__(message)
        self.code = code
        self.message = message
        self.cure = cure
        self.where = where

    def as_json(self) -> dict[str, dict[str, str | None]]:
        """Return the one error shape of every route and of the command line."""
        return {"error": {"code": self.code, "message": self.message, "cure": self.cure, "where": self.where}}


class _CodedError(FellsideError):
    """An error whose code is known by its class; a narrower one may be given."""

    usual_code: ClassVar[str] = "error"

    def __init__(
        self, message: str, cure: str | None = None, where: str | None = None, *, code: str | None = None
    ) -> None:
        super().__init__(code or self.usual_code, message, cure, where)


class BadInput(_CodedError):
    """What was given cannot be used; nothing was changed."""

    usual_code = "bad-input"


class BadShape(BadInput):
    """A boundary or area is no usable Polygon or MultiPolygon."""

    usual_code = "bad-shape"


class TooLarge(BadInput):
    """What was sent is larger than is taken in at once."""

    usual_code = "too-large"


class NotFound(_CodedError):
    """There is nothing under that name."""

    usual_code = "not-found"


class NotPaired(_CodedError):
    """The device is not known here, or was shut out."""

    usual_code = "unpaired"


class NotAllowed(_CodedError):
    """The device is known, or its code was read, but this may not be done."""

    usual_code = "not-allowed"


class TooManyTries(_CodedError):
    """Too many wrong tries in too short a time; `retry_after_s` tells how long to wait."""

    usual_code = "too-many-tries"

    def __init__(self, message: str, cure: str | None = None, *, retry_after_s: int = 60) -> None:
        super().__init__(message, cure)
        self.retry_after_s = retry_after_s


class Busy(_CodedError):
    """It cannot be done just now, because others are at it; `retry_after_s` tells when to ask again."""

    usual_code = "busy"

    def __init__(
        self, message: str, cure: str | None = None, *, retry_after_s: int = 15, code: str | None = None
    ) -> None:
        super().__init__(message, cure, code=code)
        self.retry_after_s = retry_after_s


class Conflict(_CodedError):
    """What is asked does not fit what is there already; nothing was changed."""

    usual_code = "conflict"


class TooOld(_CodedError):
    """The other side speaks a version that is no longer understood."""

    usual_code = "too-old"


class NoRoom(_CodedError):
    """The disk, or what may be used of it, is full."""

    usual_code = "no-room"


class StoreTrouble(_CodedError):
    """The store cannot be opened, read or written."""

    usual_code = "store-trouble"
