"""The files of an export: one for each table of the record, in a folder that is there whole or not at all."""

import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any, Final

from django.db.models import Model

from caseload.errors import Refusal
from caseload.exchange.writing import put_csv
from caseload.management.keeping.snapshot import ALIAS
from caseload.reads.columns import columns_of
from caseload.reads.files import FILES

AT_ONCE: Final = 1000


@contextmanager
def whole_folder(folder: Path) -> Iterator[Path]:
    """A folder for its owner only that takes the name `folder` when everything in it is written, or never.

    Raises Refusal `folder-not-empty`; OSError where it cannot be.
    """
    if folder.exists() and not (folder.is_dir() and not any(folder.iterdir())):
        raise Refusal("folder-not-empty", f"{folder} is not an empty folder. Name one that is not there yet.")
    fresh = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.absolute().parent))
    try:
        yield fresh
        os.replace(fresh, folder)
    except BaseException:
        shutil.rmtree(fresh, ignore_errors=True)
        raise


def write_tables(folder: Path, progress: Callable[[str], None]) -> dict[str, int]:
    """Write a file for each table as the snapshot has it; how many rows each has, by the name of the file."""
    counts = {}
    for file in FILES:
        progress(file.name)
        counts[file.name] = _write_table(folder / f"{file.name}.csv", file.model)
    return counts


def _write_table(path: Path, model: type[Model]) -> int:
    columns, count = columns_of(model), 0

    def rows() -> Iterator[list[Any]]:
        nonlocal count
        found = model._base_manager.using(ALIAS).order_by("pk").values_list(*(column.path for column in columns))
        for row in found.iterator(AT_ONCE):
            count += 1
            yield [column.say(value) for column, value in zip(columns, row, strict=True)]

    with private(path) as lines:
        put_csv(lines, [column.header for column in columns], rows())
    return count


def private(path: Path, encoding: str = "utf-8-sig") -> IO[str]:
    """A new text file that its owner alone can read, marked as UTF-8 for spreadsheets."""
    return open(path, "x", encoding=encoding, newline="", opener=lambda name, flags: os.open(name, flags, 0o600))
