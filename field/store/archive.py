"""The file of a backup, or of a phone's copy: plain members, and a manifest with the SHA-256 of each, in one zip.

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
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, NoReturn

from field.core.errors import BadInput

FORM = 1
MANIFEST = "manifest.json"
FIRST = "READ-ME.txt"
WORDS = """This is a backup of Fellside: its journal of changes, its paired phones, and every photo, track and paper.

    fellside restore FILE        puts it back; what stands there now is kept beside it

Photos lie under photos/, each named by the SHA-256 of its content. Where trees stand is in here: keep it as you would
keep the log itself.
"""
FIRST_WORDS = 100  # bytes after the name of the first member: what its head has besides, and by what it begins
PIECE = 256 * 1024
MOST_LINE = 64 * 1024 * 1024  # bytes of one row; the largest change that is taken in is far below
MOST_LIST = 16 * 1024 * 1024  # bytes of the list of members at the end of a copy
TAIL = 20 + 22 + 80  # what stands last: where the long form of that list would be told of, its short form, the comment
COMMENT = re.compile(rb"manifest sha256 ([0-9a-f]{64})")
# What a damaged zip makes the reading of it raise.
DAMAGE = (
    zipfile.BadZipFile, zlib.error, struct.error, EOFError, ValueError, LookupError, TypeError, ArithmeticError,
    AttributeError, RuntimeError,
)  # fmt: skip

Told = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Kind:
    """What sort of file it is to be, and what is said of one that is none, or no whole one."""

    key: str  # in the manifest, beside the number of its form
    names: re.Pattern[str]  # of its members
    most_manifest: int  # bytes
    may_be_packed: bool  # a member that is not packed cannot be longer than the file it is in
    foreign: tuple[str, str, str]  # code; what follows the file's name; cure
    damaged: tuple[str, str, str]
    newer: str  # cure
    other: tuple[bytes, tuple[str, str, str]]  # how a file of the other kind begins, and what is said of one


BACKUP = Kind(
    key="fellside_backup",
    names=re.compile(
        rf"{re.escape(FIRST)}|[a-z]{{1,40}}\.json|books/[a-z_]{{1,40}}\.jsonl|photos/[0-9a-f]{{2}}/[0-9a-f]{{64}}",
        re.ASCII,
    ),
    most_manifest=512 * 1024 * 1024,
    may_be_packed=True,
    foreign=("no-backup", "is no backup of Fellside.", "'fellside backup FILE' makes one."),
    damaged=(
        "backup-damaged",
        "is damaged, or broke off while it was written or copied; nothing was changed.",
        "Take another backup, or copy this one again from where it came from.",
    ),
    newer="Update this one, then restore again.",
    other=(
        b"This is a copy of what one phone kept",
        (
            "no-backup",
            "is a copy that one phone kept, and no backup of a home.",
            "'fellside take-copy FILE' takes it in beside what is here.",
        ),
    ),
)
COPY = Kind(
    key="fellside_copy",
    names=re.compile(rf"{re.escape(FIRST)}|journal/[0-9]{{4}}\.jsonl|photos/[0-9a-f]{{2}}/[0-9a-f]{{64}}", re.ASCII),
    most_manifest=16 * 1024 * 1024,  # a phone puts at most a few thousand members into one
    may_be_packed=False,
    foreign=("no-copy", "is no copy that a phone kept.", "Choose a file whose name begins with fellside-copy."),
    damaged=(
        "copy-damaged",
        "is damaged, or broke off on its way; nothing of it was taken in.",
        "Bring it over once more, or keep another copy on the phone.",
    ),
    newer="Update this one, then take the copy in again.",
    other=(
        WORDS[:28].encode(),
        (
            "no-copy",
            "is a backup of a whole home, and no copy that a phone kept; nothing of it was taken in.",
            "At the server, 'fellside restore FILE' puts it back: what stands there now is kept beside it.",
        ),
    ),
)


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
        manifest = json.dumps({BACKUP.key: FORM, **facts, "members": self._members}, indent=1).encode("ascii")
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
    """A backup or copy that is open for reading; its manifest was read and is whole."""

    def __init__(self, name: str, zip_: zipfile.ZipFile, kind: Kind, length: int) -> None:
        self._name = name
        self._zip = zip_
        self._kind = kind
        self._length = length  # bytes of the file
        self.facts = self._read_manifest()
        self.members: dict[str, dict[str, Any]] = self.facts.pop("members")

    def size_bytes(self) -> int:
        """Return how long all members are together, unpacked."""
        return sum(member["size_bytes"] for member in self.members.values())

    def verify(self, told: Told = lambda count, of: None) -> None:
        """Read every member and compare it with the manifest.

        Raises: BadInput at the first that differs.
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
        with _in_words(_refusal(self._name, self._kind.damaged)):
            yield

    def _find(self, name: str) -> zipfile.ZipInfo:
        info = self._zip.getinfo(name)
        ways = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED) if self._kind.may_be_packed else (zipfile.ZIP_STORED,)
        if info.flag_bits & 0x1 or info.compress_type not in ways:
            self._damaged()  # written in no way that such a file is written in
        return info

    def _read_manifest(self) -> dict[str, Any]:
        comment = COMMENT.fullmatch(self._zip.comment)
        if MANIFEST not in self._zip.NameToInfo and comment is None:
            raise _refusal(self._name, self._kind.foreign)
        info = self._find(MANIFEST)
        if info.file_size > self._kind.most_manifest:
            self._damaged()
        with self._zip.open(info) as member:
            text = member.read(self._kind.most_manifest)
        facts = json.loads(text)
        form = facts.get(self._kind.key) if isinstance(facts, dict) else None
        if form is None:
            raise _refusal(self._name, self._kind.foreign)
        if comment is None or hashlib.sha256(text).hexdigest().encode("ascii") != comment[1]:
            self._damaged()
        if not isinstance(form, int) or form > FORM:
            raise BadInput(f"{self._name} was made by a newer Fellside than this one.", self._kind.newer)
        names = self._zip.namelist()
        if len(set(names)) != len(names) or {*facts["members"], MANIFEST} != set(names):
            self._damaged()
        for name, member in facts["members"].items():
            if not self._kind.names.fullmatch(name):
                self._damaged()
            if not isinstance(member["size_bytes"], int) or member["size_bytes"] < 0:
                self._damaged()
        # Members may be said to lie in one place: a small file could else be read for ever.
        if not self._kind.may_be_packed and sum(one["size_bytes"] for one in facts["members"].values()) > self._length:
            self._damaged()
        return dict(facts)

    def _damaged(self) -> NoReturn:
        raise _refusal(self._name, self._kind.damaged)


def _refusal(name: str, said: tuple[str, str, str]) -> BadInput:
    code, words, cure = said
    return BadInput(f"{name} {words}", cure, code=code)


@contextmanager
def opened(path: Path, kind: Kind = BACKUP, name: str | None = None) -> Iterator[Backup]:
    """Open a backup or copy for reading; its manifest is read and checked, the members are not yet.

    Args:
        name: what the file is called in sentences; None: as on the disk.
    Raises: BadInput when there is no such file, it is of another kind (no-backup, no-copy), it is damaged
        (backup-damaged, copy-damaged), or it was made by a newer Fellside.
    """
    called = path.name if name is None else name
    try:
        file = path.open("rb")
    except (OSError, ValueError) as fault:  # ValueError: a name that no file can have
        why = fault.strerror.lower() if isinstance(fault, OSError) and fault.strerror else "no file can have that name"
        raise BadInput(f"{str(path)!r} cannot be read: {why}.", kind.foreign[2]) from None
    with file:
        _forget_cached(file)
        head = file.read(30 + len(FIRST) + FIRST_WORDS)
        is_ours = head[:4] == b"PK\x03\x04" and head[30:].startswith(FIRST.encode())
        begins, said = kind.other
        if is_ours and begins in head:
            raise _refusal(called, said)
        with _in_words(_refusal(called, kind.damaged if is_ours else kind.foreign)):
            if not kind.may_be_packed:
                _check_list(file)
            backup = Backup(called, zipfile.ZipFile(file), kind, os.fstat(file.fileno()).st_size)
        yield backup


def _check_list(file: IO[bytes]) -> None:
    """Refuse a list of members that a phone would not have written, before it is read into memory as a whole."""
    file.seek(-TAIL, os.SEEK_END)
    tail = file.read(TAIL)
    if tail[:4] == b"PK\x06\x07" or int.from_bytes(tail[32:36], "little") > MOST_LIST:
        raise zipfile.BadZipFile("its list of members is too long")


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
