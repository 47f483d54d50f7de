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
    """Only a backup is ever replaced: a name that was mistyped may be that of the database itself.

    Raises Refusal `file-is-there`, and those of `check` for what is no backup.
    """
    if not path.exists():
        return
    if path.is_file() and replace:
        heading_of(path)
        return
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
    heading = heading_of(path)
    lines, digest, count = read(path), hashlib.sha256(), 0
    last = next(lines)
    for line in lines:
        digest.update(last)
        last, count = line, count + 1
    if last != as_line({"sha256": digest.hexdigest()}) or count != heading.rows + 1:
        raise damaged(path)
    return Checked(heading, last.decode())


def heading_of(path: Path) -> Heading:
    """What a file says of itself. Raises Refusal `not-a-backup`, `newer-backup`, `no-file`."""
    try:
        return read_heading(next(read(path), b""))
    except Refusal as refusal:
        if refusal.code not in ("damaged-backup", "not-a-backup"):
            raise
        raise Refusal("not-a-backup", f"{path} is not a backup of the planner.") from refusal


def damaged(path: Path) -> Refusal:
    return Refusal("damaged-backup", f"{path} is damaged: it is not what was written. Take an earlier backup.")
