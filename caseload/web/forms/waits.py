"""What is asked of the waits: an address as `reads.waits.Asked`, and what is shown as a sentence.

Every value is a choice from a list or a typed date. What cannot be is left out, said so, and replaced by the usual.
"""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import Any, Final

from django import forms
from django.utils.functional import cached_property

from caseload.models import Staff
from caseload.parsing import Priority
from caseload.reads import waits
from caseload.reads.names import Names, names
from caseload.timetable.terms import Suture
from caseload.waits.rows import Period, months_earlier
from caseload.waits.terms import Clock
from caseload.web.forms.fields import DayField
from caseload.web.forms.filters import Filters, choices
from caseload.web.links import address
from caseload.web.paging import with_changes
from caseload.wording import label
from caseload.wording.dates import say_month, say_period

OWN: Final = "own"
SPANS: Final = {"last-3": 3, "last-6": 6, "last-12": 12}
LISTED: Final = 24
"""So many months before this one can be chosen from the list."""
LONGEST: Final = 120
"""Months: no period begins earlier than so long ago, whatever an address asks for."""
BY: Final = {waits.By.WEEK: "week by week", waits.By.MONTH: "month by month"}


class WaitsForm(Filters):
    """`asked` is what to count, `query` the same as the values of an address, `sentence` the same in words."""

    clock = forms.ChoiceField(required=False)
    period = forms.ChoiceField(required=False)
    first = DayField(required=False, label="First day")
    last = DayField(required=False, label="Last day")
    surgeon = forms.ChoiceField(required=False)
    suture = forms.ChoiceField(required=False, label="Stitches")
    priority = forms.ChoiceField(required=False)
    by = forms.ChoiceField(required=False, label="Trend")
    field_order: tuple[str, ...] = (
        "clock", "period", "first", "last", "site", "therapist", "surgeon", "suture", "priority", "by",
    )  # fmt: skip

    def __init__(
        self, query: Mapping[str, str], *, names: Names, staff: Staff, today: date, surgeons: Sequence[str]
    ) -> None:
        self.today, self.surgeons = today, surgeons
        super().__init__(query, names=names, staff=staff)

    def _offer(self) -> None:
        self._choose("clock", [(clock.value, label(clock)) for clock in Clock])
        self._choose("period", self._periods())
        for name in ("first", "last"):
            self.fields[name].today = self.today  # type: ignore[attr-defined]
        self._choose("therapist", [("", "everybody's"), *((each.code, each.name) for each in self.names.therapists)])
        self._choose("surgeon", [("", "all"), *((name, name) for name in self.surgeons if name)])
        self._choose("suture", choices(Suture, "all"))
        self._choose("priority", choices(Priority, "all"))
        self._choose("by", [(by.value, said) for by, said in BY.items()])

    def _periods(self) -> list[tuple[str, str]]:
        this = self.today.replace(day=1)
        months = [months_earlier(this, back) for back in range(1, LISTED + 1)]
        asked = month_in(self.data.get("period", ""))
        if asked and months_earlier(this, LONGEST) <= asked < months[-1]:
            months.append(asked)
        last, *earlier = [(_named(month), say_month(month)) for month in months]
        spans = [(name, f"the last {count} months") for name, count in SPANS.items()]
        so_far = (_named(this), f"{say_month(this)} so far")
        return [last, *spans, so_far, *earlier, (OWN, "from one day to another")]

    def clean(self) -> dict[str, Any]:
        """The days of a period of one's own: both, in order, past, and not too long ago."""
        said = self.cleaned_data
        if said.get("period") == OWN and not self.errors.keys() & {"first", "last"}:
            first, last = said.get("first"), said.get("last")
            if wrong := self._why_not(first, last):
                self.add_error("first", wrong)
        return said

    def _why_not(self, first: date | None, last: date | None) -> str:
        if first is None or last is None:
            return "A period from one day to another needs its first and its last day."
        if first > last:
            return "The first day of the period is after its last."
        if last > self.today:
            return "The period ends in the future."
        if first < months_earlier(self.today.replace(day=1), LONGEST):
            return f"The period begins more than {LONGEST // 12} years ago."
        return ""

    @property
    def remarks(self) -> list[str]:
        days = [str(said) for name in ("first", "last") for said in self.errors.get(name, ())]
        if not self.is_own:
            typed = any(self.data.get(name, "").strip() for name in ("first", "last"))
            days = ["First and last day count with the period “from one day to another” alone."] if typed else []
        others = [str(self[name].label) for name in self.errors if name not in ("first", "last")]
        shown = f"{say_period(self.span)} is shown."
        left_out = [f"The filter “{name}” held something that is not on its list, and was left out." for name in others]
        return [*left_out, *(f"{said} {shown}" for said in days)]

    def _chosen(self, name: str) -> str:
        return self.span_name if name == "period" and not self.is_own else super()._chosen(name)

    @property
    def is_own(self) -> bool:
        return self.value("period") == OWN

    @property
    def is_set(self) -> bool:
        """Whether anything narrows what is counted."""
        return any(self.value(name) for name in ("site", "therapist", "surgeon", "suture", "priority"))

    @property
    def span_name(self) -> str:
        """The period as addresses carry it."""
        if self.is_own and "first" not in self.errors and "last" not in self.errors:
            return OWN
        asked = self.value("period")
        return asked if asked and asked != OWN else _named(months_earlier(self.today.replace(day=1), 1))

    @property
    def span(self) -> Period:
        """The days that are counted; none of them is to come."""
        name, this = self.span_name, self.today.replace(day=1)
        if name == OWN:
            return Period(self.value("first"), self.value("last"))
        if name in SPANS:
            return Period(months_earlier(this, SPANS[name]), this - timedelta(days=1))
        month = month_in(name)
        assert month is not None
        return Period(month, min(months_earlier(month, -1) - timedelta(days=1), self.today))

    def asked(self) -> waits.Asked:
        people = self.people()
        return waits.Asked(
            clock=Clock(self.value("clock") or Clock.FIRST_VISIT), period=self.span,
            site=people["site"], therapist=people["therapist"],
            by=waits.By(self.value("by") or waits.By.WEEK),
            **{name: self.value(name) for name in ("surgeon", "suture", "priority")},
        )  # fmt: skip

    @cached_property
    def query(self) -> dict[str, str]:
        """What is shown, as the values of an address: what was left out is not among them."""
        said = {name: self.value(name) for name in self.fields} | {
            "period": self.span_name,
            "clock": self.asked().clock,
        }
        days = {name: said[name].isoformat() if self.span_name == OWN else "" for name in ("first", "last")}
        return {name: str(value) for name, value in (said | days).items() if value}

    def href(self, name: str, **changes: object) -> str:
        """The address of a page of waits with what is asked here, some of it changed, or taken out with None."""
        return address(name) + with_changes(self.query, **changes)

    @property
    def sentence(self) -> str:
        """`Referral to first visit, October 2026; Fernhollow, urgent.`"""
        asked, people = self.asked(), self.people()
        suture = label(Suture(asked.suture)) if asked.suture else ""
        priority = label(Priority(asked.priority)) if asked.priority else ""
        who = [self.names.site(people["site"]), self.names.therapist(people["therapist"]), asked.surgeon]
        only = ", ".join(filter(None, [*who, suture, priority])) or "all patients"
        return f"{label(asked.clock)}, {say_period(asked.period)}; {only}."


def waits_form(query: Mapping[str, str], *, staff: Staff, today: date) -> WaitsForm:
    """The form for an address, with what can be chosen read from the record."""
    return WaitsForm(query, names=names(), staff=staff, today=today, surgeons=waits.surgeons())


def month_in(name: str) -> date | None:
    """`month-2026-10` as its first day; None where it is none."""
    year, _, month = name.removeprefix("month-").partition("-")
    if not (name.startswith("month-") and len(year) == 4 and len(month) == 2 and f"{year}{month}".isascii()):
        return None
    if not f"{year}{month}".isdecimal() or not 1 <= int(month) <= 12 or int(year) < 1900:
        return None
    return date(int(year), int(month), 1)


def _named(month: date) -> str:
    return f"month-{month:%Y-%m}"
