"""Open files and folders of photos and tracks, and read each by what its content is."""

from __future__ import annotations

import hashlib
import io
import os
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO

from field.core.errors import BadInput
from field.readers import gpx
from field.readers.exif import PhotoFacts, read_photo
from field.readers.track import Track
from field.readers.trouble import Trouble, trouble

PIECE = 1024 * 1024

Source = Path | bytes


@dataclass(slots=True)
class ReadFile:
    """One file that was read: exactly one of `facts` and `track`, or neither for what is no photo and no track."""

    name: str
    source: Source
    sha256: str | None  # None: the file could not be opened
    size: int
    facts: PhotoFacts | None = None
    track: Track | None = None
    troubles: list[Trouble] = field(default_factory=list)


def list_files(paths: Iterable[str | os.PathLike[str]]) -> list[Path]:
    """Return the files that paths name, each once: folders with all below them, in the order of their names.

    Raises: BadInput for a path that is not there or cannot be reached.
    """
    found: dict[Path, None] = {}  # a set that keeps its order
    for given in paths:
        path = Path(given)
        try:
            is_dir, is_there = path.is_dir(), path.exists()
        except PermissionError:
            raise BadInput(
                f"'{one_line(str(path))}' cannot be reached: permission denied.", "Look at who owns it.", "paths"
            ) from None
        except (OSError, ValueError):  # a name that no file can have
            is_dir = is_there = False
        if not is_there:
            raise BadInput(f"There is no file or folder '{one_line(str(path))}'.", "Check the path.", "paths")
        if not is_dir:
            found[path] = None
            continue

        # A folder that cannot be looked into stands in the list itself: reading it tells why.
        def note(fault: OSError) -> None:
            found[Path(fault.filename)] = None

        for folder, folders, names in os.walk(path, onerror=note):
            folders[:] = sorted(name for name in folders if not name.startswith("."))
            found.update((Path(folder, name), None) for name in sorted(names) if not name.startswith("."))
    return list(found)


def one_line(text: str) -> str:
    """Return a text without signs that cannot be shown or stored, such as those of an undecodable file name."""
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)


def read_file(name: str, sha256: str | None, source: Source) -> ReadFile:
    """Return what one file holds; a file that cannot be opened is told as such."""
    try:
        if isinstance(source, Path) and not source.is_file():
            raise OSError("it is a folder that cannot be looked into" if source.is_dir() else "it is no plain file")
        with _opened(source) as stream:
            size = stream.seek(0, os.SEEK_END)
            one = ReadFile(name, source, sha256 or _hash(stream), size)
            one.facts = read_photo(stream)
            if one.facts is not None:
                one.troubles = list(one.facts.troubles)
                return one
            stream.seek(0)
            if name.lower().endswith(".gpx") or gpx.looks_like_xml(stream.read(64)):
                got = gpx.read_track(stream)
                is_other = any(t.code in ("other-xml", "web-page", "not-gpx") for t in got.troubles)
                if name.lower().endswith(".gpx") or not is_other:
                    one.track = got
                    one.troubles = list(got.troubles)
                    return one
            one.troubles.append(trouble("not-photo-or-track" if size else "empty"))
            return one
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        return ReadFile(name, source, sha256, 0, troubles=[trouble("unreadable", reason=reason)])


def _opened(source: Source) -> BinaryIO:
    return io.BytesIO(source) if isinstance(source, bytes) else source.open("rb")


def _hash(stream: BinaryIO) -> str:
    stream.seek(0)
    digest = hashlib.sha256()
    while piece := stream.read(PIECE):
        digest.update(piece)
    return digest.hexdigest()
