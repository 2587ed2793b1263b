"""Read GPX tracks of any producer: a stream through expat into flat arrays, one bad point costing one point.

Only gpx/trk/trkseg/trkpt, gpx/wpt and gpx/rte/rtept are read; whatever stands inside anything else (extensions above
all) is passed over, even if it bears the same names. Prefixes do not matter. Entities are refused before any of them
is expanded; nothing outside the file is ever opened. Memory: the arrays and one piece of 256 kB.
Source: the GPX 1.0 and 1.1 schemas; times as xsd:dateTime.
"""

from __future__ import annotations

import codecs
import re
from array import array
from collections.abc import Iterator
from datetime import timedelta
from typing import BinaryIO
from xml.parsers import expat

from field.readers.gpx_time import WHOLE_SECONDS, judge_times, read_time
from field.readers.track import EPOCH, HIGHEST_LAND_M, LOWEST_LAND_M, Route, Track, Waypoint
from field.readers.trouble import trouble

PIECE = 256 * 1024  # bytes read at a time
HUGE = 1024 * 1024  # bytes of one tag: expat scans an unfinished one again with each piece, so a limit is needed
MOST_TOLD = 20  # faults of one kind told one by one; the rest as a number
MOST_NAME = 200  # letters of a name that are kept
MOST_TEXT = 2000  # letters kept of any text

NAMESPACES = {
    "http://www.topografix.com/GPX/1/0",
    "http://www.topografix.com/GPX/1/1",
    "",
}

ROOT, GPX, TRK, SEG, TRKPT, RTE, RTEPT, WPT, ELE, TIME, NAME = range(11)
STEPS: list[dict[str, int]] = [
    {"gpx": GPX},
    {"trk": TRK, "rte": RTE, "wpt": WPT},
    {"trkseg": SEG, "name": NAME},
    {"trkpt": TRKPT},
    {"ele": ELE, "time": TIME},
    {"rtept": RTEPT, "name": NAME},
    {},
    {"ele": ELE, "time": TIME, "name": NAME},
    {},
    {},
    {},
]
POINTS = (TRKPT, RTEPT, WPT)
NAN = float("nan")

_DECLARED = re.compile(rb"""^\s*<\?xml[^>]*?encoding\s*=\s*["']([A-Za-z0-9._-]+)["']""")
# What expat says when the input ends too early: no element, unclosed token, partial letter, unclosed CDATA.
_ENDED = {3, 5, 6, 20}
_INVALID_TOKEN, _JUNK_AFTER_END, _UNKNOWN_ENCODING = 4, 9, 18


class _Refused(Exception):
    """Nothing of the file is used; the trouble is already written down."""


def looks_like_xml(head: bytes) -> bool:
    """Return whether the first bytes of a file (64 are enough) begin like XML in any of its encodings."""
    for mark in (codecs.BOM_UTF8, codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE):
        head = head.removeprefix(mark)
    return head.replace(b"\0", b"").lstrip()[:1] == b"<"


def read_track(stream: BinaryIO) -> Track:
    """Return what a GPX file holds, and what is wrong with it.

    Args:
        stream: the whole file, opened for reading bytes; must be able to seek. Read once, a second time only when
            its letters do not fit its encoding.
    Returns: a track; with nothing in it and a refusing trouble if the file is none.
    Raises: OSError if the stream cannot be read. Nothing that stands in the file makes it raise.
    """
    stream.seek(0)
    head = stream.read(4096)
    if not head:
        return Track(troubles=[trouble("empty")])
    reading = _Reading(head)
    try:
        if reading.run(stream, mend=False):
            reading = _Reading(head)
            reading.run(stream, mend=True)
    except _Refused:
        return Track(troubles=reading.track.troubles)
    return reading.finished()


class _Reading:
    """One pass over a file: where in the tree we are, the point at hand, the track so far."""

    def __init__(self, head: bytes) -> None:
        self.head = head
        self.track = Track()
        self.state = ROOT
        self.stack: list[int] = []
        self.skip = 0
        self.prefixes = {""}
        self.is_plain = False  # True: below the root, and names without a prefix are GPX's
        self.uri = ""
        self.text: list[str] = []
        self.text_size = 0
        self.root_closed = False
        self.has_root = False
        # the point at hand
        self.lat: float | None = None
        self.lon = 0.0
        self.height = NAN
        self.time = NAN
        self.name: str | None = None
        self.line = 0
        # the last whole minute that was read: the next time is nearly always in the same one
        self.minute = ""
        self.minute_s = NAN
        self.route: Route | None = None
        # faults that are told as a number
        self.told: dict[str, int] = {}
        self.first_line: dict[str, int] = {}
        self.parser = expat.ParserCreate()

    # -- feeding ---------------------------------------------------------------------------------------------------

    def run(self, stream: BinaryIO, mend: bool) -> bool:
        """Read the stream; return whether it must be read again because its letters do not fit its encoding.

        Args:
            mend: put a replacement character for whatever cannot be decoded.
        """
        pieces, encoding = self._pieces(stream, mend)
        parser = self.parser = expat.ParserCreate(encoding)
        parser.buffer_text = True
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        parser.EntityDeclHandler = self._entity
        fed = 0
        try:
            for piece in pieces:
                parser.Parse(piece, False)
                fed += len(piece)
                if fed - parser.CurrentByteIndex > HUGE:
                    self._refuse("huge-piece", limit=HUGE, line=parser.CurrentLineNumber)
            parser.Parse(b"", True)
        except expat.ExpatError as error:
            if not mend and error.code == _INVALID_TOKEN and encoding is None and not self.root_closed:
                return True
            self._stopped(error)
        except LookupError:
            self._refuse("unknown-encoding", name=self._declared() or "?")
        return False

    def _declared(self) -> str | None:
        found = _DECLARED.match(self.head.removeprefix(codecs.BOM_UTF8))
        return None if found is None else found[1].decode("ascii").lower()

    def _pieces(self, stream: BinaryIO, mend: bool) -> tuple[Iterator[bytes], str | None]:
        """Return the bytes to feed, and the encoding that overrides what the file says of itself."""
        stream.seek(0)
        head = self.head.removeprefix(codecs.BOM_UTF8)
        blank = len(head) - len(head.lstrip(b" \t\r\n")) if head[:2] not in (b"\xff\xfe", b"\xfe\xff") else 0
        if blank and head[blank : blank + 5] == b"<?xml":
            self._remark("leading-space")
            stream.seek(len(self.head) - len(head) + blank)
        declared = self._declared()
        encoding = None
        if declared is not None and declared.startswith(("utf-16", "utf16", "ucs-2", "utf-32")):
            # Seen as plain letters in `head`, so it is not what it says.
            self._remark("wrong-encoding", name=declared)
            encoding = "utf-8"
        elif declared is not None and _is_many_byte(declared):
            return self._recoded(stream, declared), "utf-8"
        if mend:
            return self._recoded(stream, "utf-8"), "utf-8"
        return iter(lambda: stream.read(PIECE), b""), encoding

    def _recoded(self, stream: BinaryIO, encoding: str) -> Iterator[bytes]:
        decoder = codecs.getincrementaldecoder(encoding)("replace")
        told = False
        while True:
            piece = stream.read(PIECE)
            text = decoder.decode(piece, final=not piece)
            if not told and "\N{REPLACEMENT CHARACTER}" in text:
                told = True
                self._remark("damaged-text")
            if text:
                yield text.encode("utf-8", "replace")
            if not piece:
                return

    def _stopped(self, error: expat.ExpatError) -> None:
        """Tell why the file could not be read to its end, and keep what came before."""
        track = self.track
        if not self.has_root:
            start = self.head.lstrip().lower()
            if b"<html" in start or start.startswith(b"<!doctype html"):
                self._refuse("web-page")
            if error.code == _UNKNOWN_ENCODING:
                self._refuse("unknown-encoding", name=self._declared() or "?")
            if not looks_like_xml(self.head):
                self._refuse("not-gpx")
            self._refuse("malformed-empty", line=error.lineno)
        kept = track.points + len(track.waypoints) + sum(len(route.lats) for route in self._routes())
        if self.root_closed:
            self._remark("after-the-end", line=error.lineno)
        elif error.code in _ENDED:
            track.is_cut_off = True
            track.troubles.append(trouble("cut-off", line=error.lineno, points=kept))
        elif kept:
            track.troubles.append(trouble("malformed", line=error.lineno, points=kept))
        else:
            self._refuse("malformed-empty", line=error.lineno)

    def _routes(self) -> list[Route]:
        return [*self.track.routes, self.route] if self.route is not None else self.track.routes

    def finished(self) -> Track:
        """Return the track with everything told about it."""
        track = self.track
        if self.route is not None:
            track.routes.append(self.route)
        for code, more in (("bad-point", "bad-points-more"), ("bad-height", "bad-heights-more")):
            if self.told.get(code, 0) > MOST_TOLD:
                track.troubles.append(trouble(more, count=self.told[code] - MOST_TOLD))
        if self.told.get("bad-time", 0) > MOST_TOLD:
            track.troubles.append(trouble("bad-times-more", count=self.told["bad-time"] - MOST_TOLD))
        for code in ("odd-height", "time-no-zone", "time-leap-second"):
            if code in self.told:
                track.troubles.append(trouble(code, count=self.told[code], line=self.first_line[code]))
        judge_times(track)
        empty = not (track.points or track.waypoints or track.routes)
        if empty and not track.bad_points and not track.is_cut_off:
            track.troubles.append(trouble("nothing-in-it"))
        return track

    # -- what expat calls ------------------------------------------------------------------------------------------

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        if self.skip:
            self.skip += 1
            return
        # Nearly always the plain name of a known element; all else is looked at with more care.
        step = STEPS[self.state].get(name) if self.is_plain and "xmlns" not in attributes else None
        if step is None:
            step = self._odd_step(name, attributes)
            if step is None:
                self.skip = 1
                return
        self.stack.append(self.state)
        self.state = step
        if step in POINTS:
            self._point(attributes)
        elif step >= ELE:
            self.text.clear()
            self.text_size = 0
            self.parser.CharacterDataHandler = self._letters
        elif step == SEG:
            self.track.segment_starts.append(self.track.points)
        elif step == TRK:
            self.track.track_names.append(None)
        elif step == RTE:
            self.route = Route(None, array("d"), array("d"))

    def _odd_step(self, name: str, attributes: dict[str, str]) -> int | None:
        """Return where an element leads that is the root, has a prefix or a namespace; None: it is passed over."""
        if self.state == ROOT:
            name = self._root(name, attributes)
        elif ":" in name:
            prefix, _, name = name.partition(":")
            if prefix not in self.prefixes:
                return None
        elif not self.is_plain or attributes.get("xmlns", self.uri) != self.uri:
            return None
        return STEPS[self.state].get(name)

    def _root(self, name: str, attributes: dict[str, str]) -> str:
        prefix, _, local = name.rpartition(":")
        if local != "gpx":
            if local.lower() == "html":
                self._refuse("web-page")
            self._refuse("other-xml", name=local[:40])
        self.has_root = True
        self.uri = attributes.get(f"xmlns:{prefix}" if prefix else "xmlns", "")
        self.prefixes = {prefix}
        for key, uri in attributes.items():
            if self.uri and uri == self.uri and (key == "xmlns" or key.startswith("xmlns:")):
                self.prefixes.add(key.partition(":")[2])
        self.is_plain = "" in self.prefixes
        if self.uri not in NAMESPACES:
            self._remark("unknown-namespace", value=self.uri[:80])
        version = attributes.get("version")
        if version is not None and version not in ("1.0", "1.1"):
            self._remark("unknown-version", value=version[:20])
        self.track.version = None if version is None else version[:20]
        return local

    def _point(self, attributes: dict[str, str]) -> None:
        self.line = self.parser.CurrentLineNumber
        self.height = self.time = NAN
        self.name = None
        self.lat = None
        try:
            lat_text, lon_text = attributes["lat"], attributes["lon"]
        except KeyError as missing:
            self._bad_point(f"its {missing.args[0]} is missing")
            return
        try:
            lat, lon = float(lat_text), float(lon_text)
            both = lat_text + lon_text
            is_plain = both.isascii() and "_" not in both
        except ValueError:
            is_plain = False
        if not is_plain:
            lat, lon = _number(lat_text), _number(lon_text)
        # Written so that NaN fails too.
        if not -90.0 <= lat <= 90.0:
            self._bad_point(f"its lat is '{lat_text[:30]}'")
        elif not -180.0 <= lon <= 180.0:
            self._bad_point(f"its lon is '{lon_text[:30]}'")
        elif lat == 0.0 and lon == 0.0:
            self._bad_point("it lies at 0, 0, which receivers write when they have no position")
        else:
            self.lat = lat
            self.lon = -180.0 if lon == 180.0 else lon

    def _bad_point(self, reason: str) -> None:
        self.track.bad_points += 1
        self._tell("bad-point", reason=reason)

    def _letters(self, text: str) -> None:
        if self.state >= ELE and not self.skip and self.text_size < MOST_TEXT:
            self.text.append(text)
            self.text_size += len(text)

    def _end(self, _name: str) -> None:
        if self.skip:
            self.skip -= 1
            return
        state = self.state
        self.state = parent = self.stack.pop()
        if state >= ELE:
            self.parser.CharacterDataHandler = None  # the space between elements is many calls for nothing
        if state == ELE:
            self._height("".join(self.text).strip())
        elif state == TIME:
            self._time("".join(self.text).strip())
        elif state == TRKPT:
            if self.lat is not None:
                track = self.track
                track.lats.append(self.lat)
                track.lons.append(self.lon)
                track.heights.append(self.height)
                track.times.append(self.time)
                track.lines.append(self.line)
        elif state == NAME:
            self._name("".join(self.text).strip()[:MOST_NAME] or None, parent)
        elif state == WPT:
            if self.lat is not None:
                self.track.waypoints.append(self._waypoint(self.lat))
        elif state == RTEPT:
            if self.lat is not None and self.route is not None:
                self.route.lats.append(self.lat)
                self.route.lons.append(self.lon)
        elif state == RTE and self.route is not None:
            self.track.routes.append(self.route)
            self.route = None
        elif state == GPX:
            self.root_closed = True

    def _name(self, name: str | None, parent: int) -> None:
        if parent == TRK:
            self.track.track_names[-1] = name
        elif parent == RTE and self.route is not None:
            self.route = Route(name, self.route.lats, self.route.lons)
        else:
            self.name = name

    def _waypoint(self, lat: float) -> Waypoint:
        height = None if self.height != self.height else self.height
        at = None if self.time != self.time else EPOCH + timedelta(seconds=self.time)
        return Waypoint(lat, self.lon, height, at, self.name)

    def _height(self, text: str) -> None:
        height = _number(text)
        if LOWEST_LAND_M <= height <= HIGHEST_LAND_M:
            self.height = height
            return
        if height != height or abs(height) == float("inf"):
            if text:
                self._tell("bad-height", value=text[:30])
            return
        self._count("odd-height")
        self.height = height

    def _time(self, text: str) -> None:
        if not text:
            return
        minute, seconds = text[:17], WHOLE_SECONDS.get(text[17:])
        if seconds is not None and minute == self.minute:
            self.time = self.minute_s + seconds
            return
        got = read_time(text)
        if got is None:
            self._tell("bad-time", value=text[:40])
            return
        self.time, remark = got
        if remark is not None:
            self._count(remark)
        elif seconds is not None and text[11:13] != "24":  # of hour 24 there is but one second
            self.minute, self.minute_s = minute, self.time - seconds

    def _entity(self, *_declaration: object) -> None:
        self._refuse("entity-declaration", line=self.parser.CurrentLineNumber)

    # -- telling ---------------------------------------------------------------------------------------------------

    def _refuse(self, code: str, **values: object) -> None:
        self.track.troubles.append(trouble(code, **values))
        raise _Refused

    def _remark(self, code: str, **values: object) -> None:
        self.track.troubles.append(trouble(code, **values))

    def _count(self, code: str) -> None:
        self.told[code] = self.told.get(code, 0) + 1
        self.first_line.setdefault(code, self.line)

    def _tell(self, code: str, **values: object) -> None:
        self._count(code)
        if self.told[code] <= MOST_TOLD:
            self.track.troubles.append(trouble(code, line=self.line, **values))


def _is_many_byte(encoding: str) -> bool:
    """Return whether an encoding is one that Python knows and expat does not: more than one byte a letter."""
    try:
        name = codecs.lookup(encoding).name
    except LookupError:
        return False
    if name.startswith(("utf-8", "utf-16", "iso8859-1", "ascii")):
        return False
    try:
        return len(bytes(range(256)).decode(encoding, "replace")) != 256
    except (LookupError, UnicodeError, ValueError):  # codecs that are no encodings of text
        return False


def _number(text: str) -> float:
    """Return a decimal number, NaN if it is none: no underscores, commas, or digits of other scripts."""
    if not text.isascii() or "_" in text:
        return NAN
    try:
        return float(text)
    except ValueError:
        return NAN
