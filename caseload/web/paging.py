"""Pages of a list: a few sizes only, and a page that is out of range is the last one, with a notice."""

from collections.abc import Mapping
from typing import NamedTuple
from urllib.parse import urlencode

SIZES = (25, 50, 100)
AROUND = 2
"""So many page numbers are named on each side of the one shown."""


class Paging(NamedTuple):
    """Which rows of `total` are shown: `start` and `stop` count from 0; `moved_from` is the page asked for in vain."""

    page: int
    size: int
    total: int
    moved_from: int | None = None

    @property
    def pages(self) -> int:
        return max(1, -(-self.total // self.size))

    @property
    def start(self) -> int:
        return (self.page - 1) * self.size

    @property
    def stop(self) -> int:
        return min(self.start + self.size, self.total)

    @property
    def named(self) -> list[int | None]:
        """The page numbers to name, in order; None stands for those left out between."""
        near = range(self.page - AROUND, self.page + AROUND + 1)
        shown = [page for page in range(1, self.pages + 1) if page in (1, self.pages) or page in near]
        named: list[int | None] = []
        for before, page in zip([0, *shown], shown, strict=False):
            named += [page] if page == before + 1 else [None, page]
        return named


def read_paging(asked: Mapping[str, str], total: int) -> Paging:
    """`page` and `per` as the address gives them; what cannot be read is the first page of 25."""
    size = _whole(asked.get("per", ""))
    paging = Paging(1, size if size in SIZES else SIZES[0], total)
    page = max(1, _whole(asked.get("page", "")) or 1)
    if page > paging.pages:
        return paging._replace(page=paging.pages, moved_from=page)
    return paging._replace(page=page)


def _whole(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 8 else None


def with_changes(asked: Mapping[str, str | None], **changes: object) -> str:
    """The query of an address with some values set, or with None taken out."""
    kept = {name: value for name, value in asked.items() if value and name not in changes}
    kept |= {name: str(value) for name, value in changes.items() if value is not None}
    return f"?{urlencode(kept)}"
