"""The file of a backup: plain members, and a manifest with the SHA-256 of each, in one zip.

Why a zip: any computer can look into one without Fellside; its list of members stands at its end, so that a file that
broke off is none at all; and each member can be read by itself. Photos are stored as they are, for they do not shrink;
the books, which are lines of JSON, are packed. Written and read piece by piece: beside the list of members, a few
hundred bytes for each, nothing is held in memory.
"""

from __future__ import annotations

import errno
import hashlib
import json
import os
import re
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO, Any, NoReturn

from field.core.errors import BadInput

FORM = 1
FORM_KEY = "fellside_backup"
MANIFEST = "manifest.json"
FIRST = "READ-ME.txt"
WORDS = """This is a backup of Fellside: its journal of changes, its paired phones, and every photo, track and paper.

    fellside restore FILE        puts it back; what stands there now is kept beside it

Photos lie under photos/, each named by the SHA-256 of its content. Where trees stand is in here: keep it as you would
keep the log itself.
"""
PIECE = 256 * 1024
MOST_LINE = 64 * 1024 * 1024  # bytes of one row; the largest change that is taken in is far below
MOST_MANIFEST = 512 * 1024 * 1024
NAMES = re.compile(
    rf"{re.escape(FIRST)}|[a-z]{{1,40}}\.json|books/[a-z_]{{1,40}}\.jsonl|photos/[0-9a-f]{{2}}/[0-9a-f]{{64}}", re.ASCII
)
COMMENT = re.compile(rb"manifest sha256 ([0-9a-f]{64})")
# What a damaged zip makes the reading of it raise.
DAMAGE = (
    zipfile.BadZipFile, zlib.error, struct.error, EOFError, ValueError, LookupError, TypeError, ArithmeticError,
    AttributeError, RuntimeError,
)  # fmt: skip

Told = Callable[[int, int], None]


class Writer:
    """Writes the members of one backup, then its manifest; see `writing`."""

    def __init__(self, zip_: zipfile.ZipFile) -> None:
        self._zip = zip_
        self._members: dict[str, dict[str, Any]] = {}
        self.add(FIRST, [WORDS.encode()])

    def add(self, name: str, pieces: Iterable[bytes], *, packed: bool = False) -> str:
        """Write one member and return the SHA-256 of what was written."""
        return self._write(name, pieces, packed)

    def add_lines(self, name: str, rows: Iterable[Mapping[str, Any]]) -> int:
        """Write a member of JSON lines and return how many there were."""
        count = 0

        def lines() -> Iterator[bytes]:
            nonlocal count
            for row in rows:
                count += 1
                yield json.dumps(row, separators=(",", ":")).encode("ascii") + b"\n"

        self._write(name, lines(), True)
        return count

    def finish(self, facts: Mapping[str, Any]) -> None:
        """Write the manifest and close the file's list of members."""
        manifest = json.dumps({FORM_KEY: FORM, **facts, "members": self._members}, indent=1).encode("ascii")
        self._put(MANIFEST, [manifest], True)
        # The one member whose hash the manifest cannot hold.
        self._zip.comment = b"manifest sha256 " + hashlib.sha256(manifest).hexdigest().encode("ascii")
        self._zip.close()

    def _write(self, name: str, pieces: Iterable[bytes], packed: bool) -> str:
        sha256, size = self._put(name, pieces, packed)
        self._members[name] = {"sha256": sha256, "size_bytes": size}
        return sha256

    def _put(self, name: str, pieces: Iterable[bytes], packed: bool) -> tuple[str, int]:
        info = zipfile.ZipInfo(name)  # with no time of its own: the manifest says when
        info.compress_type = zipfile.ZIP_DEFLATED if packed else zipfile.ZIP_STORED
        info.external_attr = 0o600 << 16
        digest = hashlib.sha256()
        size = 0
        with self._zip.open(info, "w", force_zip64=True) as member:
            for piece in pieces:
                digest.update(piece)
                size += len(piece)
                member.write(piece)
        return digest.hexdigest(), size


@contextmanager
def writing(out: IO[bytes]) -> Iterator[Writer]:
    """Give what writes a backup into a file; it is one only after `finish`."""
    zip_ = zipfile.ZipFile(out, "w", zipfile.ZIP_STORED, allowZip64=True)
    try:
        yield Writer(zip_)
    except BaseException:
        with suppress(OSError, ValueError):  # what is there is thrown away; it must not be closed once more later on
            zip_.close()
        raise


class Backup:
    """A backup that is open for reading; its manifest was read and is whole."""

    def __init__(self, name: str, zip_: zipfile.ZipFile) -> None:
        self._name = name
        self._zip = zip_
        self.facts = self._read_manifest()
        self.members: dict[str, dict[str, Any]] = self.facts.pop("members")

    def size_bytes(self) -> int:
        """Return how long all members are together, unpacked."""
        return sum(member["size_bytes"] for member in self.members.values())

    def verify(self, told: Told = lambda count, of: None) -> None:
        """Read every member and compare it with the manifest.

        Raises: BadInput (backup-damaged) at the first that differs.
        """
        for count, name in enumerate(self.members):
            told(count, len(self.members))
            for _ in self.pieces(name):
                pass
        told(len(self.members), len(self.members))

    def pieces(self, name: str) -> Iterator[bytes]:
        """Yield the bytes of a member; one that differs from the manifest raises before its last piece is given."""
        with self.damage_in_words():
            wanted = self.members[name]
            digest = hashlib.sha256()
            left = wanted["size_bytes"]
            with self._zip.open(self._find(name)) as member:
                held = b""
                while piece := member.read(PIECE):
                    digest.update(piece)
                    left -= len(piece)
                    if left < 0:
                        self._damaged()
                    if held:
                        yield held
                    held = piece
            if left or digest.hexdigest() != wanted["sha256"]:
                self._damaged()
            if held:
                yield held

    def rows(self, name: str) -> Iterator[dict[str, Any]]:
        """Yield the JSON lines of a member; none where there is no such member."""
        if name not in self.members:
            return
        rest = b""
        for piece in self.pieces(name):
            *lines, rest = (rest + piece).split(b"\n")
            if len(rest) > MOST_LINE:
                self._damaged()
            for line in lines:
                with self.damage_in_words():
                    row = json.loads(line)
                    if not isinstance(row, dict):
                        self._damaged()
                yield row
        if rest:
            self._damaged()

    @contextmanager
    def damage_in_words(self) -> Iterator[None]:
        """Turn what a damaged backup raises into its sentence."""
        with _in_words(_damaged(self._name)):
            yield

    def _find(self, name: str) -> zipfile.ZipInfo:
        info = self._zip.getinfo(name)
        if info.flag_bits & 0x1 or info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            self._damaged()  # written in no way that a backup is written in
        return info

    def _read_manifest(self) -> dict[str, Any]:
        comment = COMMENT.fullmatch(self._zip.comment)
        if MANIFEST not in self._zip.NameToInfo and comment is None:
            raise _foreign(self._name)
        info = self._find(MANIFEST)
        if info.file_size > MOST_MANIFEST:
            self._damaged()
        with self._zip.open(info) as member:
            text = member.read(MOST_MANIFEST)
        facts = json.loads(text)
        form = facts.get(FORM_KEY) if isinstance(facts, dict) else None
        if form is None:
            raise _foreign(self._name)
        if comment is None or hashlib.sha256(text).hexdigest().encode("ascii") != comment[1]:
            self._damaged()
        if not isinstance(form, int) or form > FORM:
            raise BadInput(
                f"{self._name} was made by a newer Fellside than this one.", "Update this one, then restore again."
            )
        names = self._zip.namelist()
        if len(set(names)) != len(names) or {*facts["members"], MANIFEST} != set(names):
            self._damaged()
        for name, member in facts["members"].items():
            if not NAMES.fullmatch(name) or not isinstance(member["size_bytes"], int) or member["size_bytes"] < 0:
                self._damaged()
        return dict(facts)

    def _damaged(self) -> NoReturn:
        raise _damaged(self._name)


def _foreign(name: str) -> BadInput:
    return BadInput(f"{name} is no backup of Fellside.", "'fellside backup FILE' makes one.", code="no-backup")


def _damaged(name: str) -> BadInput:
    return BadInput(
        f"{name} is damaged, or broke off while it was written or copied; nothing was changed.",
        "Take another backup, or copy this one again from where it came from.",
        code="backup-damaged",
    )


@contextmanager
def opened(path: Path) -> Iterator[Backup]:
    """Open a backup for reading; its manifest is read and checked, the members are not yet.

    Raises: BadInput when there is no such file, it is no backup (no-backup), it is damaged (backup-damaged), or it was
        made by a newer Fellside.
    """
    try:
        file = path.open("rb")
    except (OSError, ValueError) as fault:  # ValueError: a name that no file can have
        why = fault.strerror.lower() if isinstance(fault, OSError) and fault.strerror else "no file can have that name"
        raise BadInput(f"{str(path)!r} cannot be read: {why}.", "Give the file that 'fellside backup' made.") from None
    with file:
        _forget_cached(file)
        head = file.read(30 + len(FIRST))
        is_ours = head[:4] == b"PK\x03\x04" and head[30:] == FIRST.encode()
        with _in_words((_damaged if is_ours else _foreign)(path.name)):
            backup = Backup(path.name, zipfile.ZipFile(file))
        yield backup


@contextmanager
def _in_words(refusal: BadInput) -> Iterator[None]:
    try:
        yield
    except DAMAGE:
        raise refusal from None
    except OSError as fault:
        if fault.errno != errno.EINVAL:  # that one: a place before the file's beginning
            raise
        raise refusal from None


def _forget_cached(file: IO[bytes]) -> None:
    """Have the disk asked, where the system can: what was just written would else be read from memory."""
    if hasattr(os, "posix_fadvise"):
        os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
