"""What a page of the diary was asked for: the day, the site, one day or a week; and the addresses of other days."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from urllib.parse import urlencode

from caseload.errors import Refusal
from caseload.parsing import read_date

WEEK = "week"
CODE = re.compile(r"[a-z0-9]{1,12}")


@dataclass
class Asked:
    """`remarks` say what could not be read and was left out."""

    on: date
    site: str = ""
    week: bool = False
    moving: str = ""
    remarks: list[str] = field(default_factory=list)

    @property
    def first(self) -> date:
        return self.on - timedelta(days=self.on.weekday()) if self.week else self.on

    @property
    def last(self) -> date:
        return self.first + timedelta(days=6) if self.week else self.on

    def href(self, on: date | None = None, *, week: bool | None = None, moving: str | None = None) -> str:
        """The address of another day, keeping everything else that was asked for."""
        as_week = self.week if week is None else week
        own = {"site": self.site, "as": WEEK if as_week else "", "moving": self.moving if moving is None else moving}
        kept = {name: value for name, value in own.items() if value}
        return "?" + urlencode({"on": (on or self.on).isoformat(), **kept})


def code_in(text: str) -> str:
    """A code as addresses carry them; empty where the text cannot be one."""
    return text if CODE.fullmatch(text) else ""


def read_asked(asked: Mapping[str, str], today: date) -> Asked:
    """A day that cannot be read is today, and said so."""
    found = Asked(today, asked.get("site", ""), asked.get("as") == WEEK, code_in(asked.get("moving", "")))
    if text := asked.get("on", ""):
        try:
            found.on = read_date(text, today=today).on
        except Refusal as refusal:
            found.remarks.append(f"{refusal.message} Today is shown.")
    return found
