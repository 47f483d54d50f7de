"""Backups as files: written whole or not at all, readable by their owner only, and checked before they are believed."""

import gzip
import hashlib
import os
import tempfile
import zlib
from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Final, NamedTuple

from caseload.errors import Refusal
from caseload.management.keeping.heading import Heading, as_line, read_heading

LEVEL: Final = 6


class Checked(NamedTuple):
    """A file that is whole: its heading, and its last line, which says the digest."""

    heading: Heading
    last: str

    @property
    def digest(self) -> str:
        return self.last.split('"')[3]


def write(path: Path, parts: Iterable[bytes], *, replace: bool) -> Checked:
    """Write a backup beside `path`, see it onto the disk, read it back, and only then give it its name.

    Raises Refusal `file-is-there` unless it may be replaced, `damaged-backup`; OSError where there is no room.
    """
    refuse_taken(path, replace)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}-")  # readable by its owner only
    fresh = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            with gzip.GzipFile("", "wb", LEVEL, file, mtime=0) as packed:
                packed.writelines(parts)
            file.flush()
            os.fsync(file.fileno())
        checked = check(fresh)
        refuse_taken(path, replace)
        os.replace(fresh, path)
        _see_onto_disk(path.parent)
        return checked
    finally:
        with suppress(FileNotFoundError):
            fresh.unlink()


def refuse_taken(path: Path, replace: bool) -> None:
    if path.exists() and not (replace and path.is_file()):
        hint = "Choose another name, or say --replace." if path.is_file() else "Name a file."
        raise Refusal("file-is-there", f"{path} is there already. {hint}")


def _see_onto_disk(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def read(path: Path) -> Iterator[bytes]:
    """The lines of a file, unpacked. Raises Refusal `damaged-backup`, `no-file`."""
    try:
        with gzip.open(path) as lines:
            yield from lines
    except (EOFError, zlib.error, gzip.BadGzipFile) as error:
        raise damaged(path) from error
    except OSError as error:
        raise Refusal("no-file", f"{path} cannot be read: {error.strerror}.") from error


def check(path: Path) -> Checked:
    """Read a file from end to end and give back its heading.

    Raises Refusal `not-a-backup`, `newer-backup`, `damaged-backup`, `no-file`.
    """
    lines, digest, count = read(path), hashlib.sha256(), 0
    try:
        first = last = next(lines, b"")
    except Refusal as refusal:
        raise not_a_backup(path) if refusal.code == "damaged-backup" else refusal from refusal
    heading = read_heading(first)
    for line in lines:
        digest.update(last)
        last, count = line, count + 1
    if last != as_line({"sha256": digest.hexdigest()}) or count != heading.rows + 1:
        raise damaged(path)
    return Checked(heading, last.decode())


def damaged(path: Path) -> Refusal:
    return Refusal("damaged-backup", f"{path} is damaged: it is not what was written. Take an earlier backup.")


def not_a_backup(path: Path) -> Refusal:
    return Refusal("not-a-backup", f"{path} is not a backup of the planner.")
