"""Lists as django-tables2 tables: columns, order and export are declared here; rows are joined strings (`rows.py`).

Every list has one template of our own. A table is made without rows, gives the ordering that was asked for, and is
then filled with the rows of one page; an export fills one like it with all rows.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any, NamedTuple

import django_tables2
from django.utils.safestring import SafeString, mark_safe
from django_tables2 import Column

from caseload.reads import caseload, overdue
from caseload.reads.names import Names
from caseload.timetable.terms import Digit, FollowUpKind, Headline, Owner, Side, Suture
from caseload.web.paging import SIZES, Paging, with_changes
from caseload.wording import label
from caseload.wording.advice import advise
from caseload.wording.speech import speech


class Heading(NamedTuple):
    """The head of a column; `sort` is the value of aria-sort, `href` orders by it."""

    title: str
    css: str
    href: str
    sort: str


def shown(title: str, order_by: Any = None, css: str = "") -> Column:
    """A column of the page. It is not exported: what it holds is exported column by column."""
    orderable = order_by is not None
    attrs = {"th": {"class": css}}
    return Column(verbose_name=title, order_by=order_by, orderable=orderable, exclude_from_export=True, attrs=attrs)


def exported(title: str, accessor: str | None = None) -> Column:
    return Column(verbose_name=title, accessor=accessor, visible=False, orderable=False)


class ListTable(django_tables2.Table):
    """`name` is the name of its address, `caption` says what it lists."""

    name = ""
    caption = ""
    sort = ""
    body: SafeString = mark_safe("")
    paging = Paging(1, SIZES[0], 0)

    def __init__(self, asked: Mapping[str, str], today: date, names: Names, rows: Sequence[Any] = ()) -> None:
        wanted = [] if rows else (asked.get("sort") or self.sort).split(",")
        order_by = [alias for alias in wanted if alias.removeprefix("-") in self.base_columns]
        super().__init__(list(rows), order_by=order_by, template_name="partials/table.html", default="")
        self.asked, self.today, self.names = asked, today, names

    def ordering(self) -> list[str]:
        """The fields to order by, in the order of the columns asked for."""
        return [str(field) for alias in self.order_by for field in self.columns[alias.lstrip("-")].order_by]

    def fill(self, rows: Iterable[str], paging: Paging) -> None:
        self.body, self.paging = mark_safe("".join(rows)), paging

    @property
    def headings(self) -> list[Heading]:
        return [self._heading(column) for column in self.columns]

    def _heading(self, column: Any) -> Heading:
        css = column.column.attrs.get("th", {}).get("class", "")
        if not column.orderable:
            return Heading(column.header, css, "", "")
        alias = next((alias for alias in self.order_by if alias.lstrip("-") == column.name), "")
        sort = "" if not alias else "descending" if alias.startswith("-") else "ascending"
        wanted = f"-{column.name}" if sort == "ascending" else column.name
        return Heading(column.header, css, with_changes(self.asked, sort=wanted, page=None), sort)

    def page_href(self, page: int | None) -> str:
        return with_changes(self.asked, page=page)

    @property
    def steps(self) -> list[tuple[int | None, str]]:
        return [(page, self.page_href(page)) for page in self.paging.named]

    @property
    def previous_href(self) -> str:
        return self.page_href(self.paging.page - 1) if self.paging.page > 1 else ""

    @property
    def next_href(self) -> str:
        return self.page_href(self.paging.page + 1) if self.paging.page < self.paging.pages else ""

    @property
    def sizes(self) -> list[tuple[int, str]]:
        return [(size, with_changes(self.asked, per=size, page=None)) for size in SIZES]

    @property
    def what(self) -> str:
        """What a file of this list holds, in words."""
        return f"All {self.paging.total}"

    @property
    def export_href(self) -> str:
        return with_changes(self.asked, page=None, per=None)

    def value_day(self, record: Any) -> int | None:
        return (self.today - record.surgery_on).days if record.surgery_on else None

    def value_side(self, record: Any) -> str:
        return label(Side(record.side)) if record.side else ""

    def value_digit(self, record: Any) -> str:
        return label(Digit(record.digit)) if record.digit else ""

    def value_suture(self, record: Any) -> str:
        return label(Suture(record.suture)) if record.suture else ""

    def value_owner(self, record: Any) -> str:
        return label(Owner(record.owner)) if record.owner else ""

    def value_site(self, record: Any) -> str:
        return self.names.site(record.site_id)

    def value_therapist_name(self, record: Any) -> str:
        return self.names.therapist(record.therapist_id)


class CaseloadTable(ListTable):
    name = "caseload"
    caption = "Open episodes"
    sort = "step"

    patient = shown("Patient", "patient__search_key")
    hand = shown("Finger", ("side", "digit"))
    since = shown("Day", "-surgery_on", "num")
    line = shown("Surgery to day 90")
    step = shown("Next step", "next_on")
    state = shown("State", ("standing__rank", "standing__due_on"))
    therapist = shown("Therapist", ("therapist__name", "site__name"))


class CaseloadExport(CaseloadTable):
    family = exported("Family name")
    given = exported("Given name")
    born_on = exported("Born")
    side = exported("Hand")
    digit = exported("Finger")
    suture = exported("Suture")
    surgery_on = exported("Surgery")
    day = exported("Day", "surgery_on")
    next_kind = exported("Next step")
    next_on = exported("On")
    next_owner = exported("Next step is with")
    headline = exported("Headline", "id")
    owner = exported("Headline is with")
    due_on = exported("Since")
    site = exported("Site", "site_id")
    therapist_name = exported("Therapist", "therapist_id")

    def value_headline(self, record: caseload.Row) -> str:
        if record.headline:
            return label(Headline(record.headline))
        return "planned" if record.headline is None else "in hand"

    def value_next_kind(self, record: caseload.Row) -> str:
        if record.next_kind == Headline.MISSING_FACT:
            return "find the missing fact"
        return label(FollowUpKind(record.next_kind)) if record.next_kind else ""

    def value_next_owner(self, record: caseload.Row) -> str:
        return label(Owner(record.next_owner)) if record.next_owner else ""


class OverdueTable(ListTable):
    name = "overdue"
    caption = "Episodes that need somebody"
    sort = "what"

    what = shown("Headline", ("rank", "due_on"))
    patient = shown("Patient", "episode__patient__search_key")
    why = shown("What to do, and why")
    line = shown("Surgery to day 90", "-episode__surgery_on")
    whose = shown("With", ("owner", "therapist__name"))


class PatientColumns(ListTable):
    """Who it is, how to reach them, and which finger, as files of people to be rung have it."""

    family = exported("Family name")
    given = exported("Given name")
    born_on = exported("Born")
    phone = exported("Telephone")
    side = exported("Hand")
    digit = exported("Finger")
    surgery_on = exported("Surgery")
    day = exported("Day", "surgery_on")


class OverdueExport(OverdueTable, PatientColumns):
    headline = exported("Headline")
    owner = exported("With")
    due_on = exported("Since")
    days = exported("Days", "due_on")
    reason = exported("Why", "headline")
    remedy = exported("What to do", "headline")
    others = exported("Also")
    site = exported("Site", "site_id")
    therapist_name = exported("Therapist", "therapist_id")

    class Meta:
        sequence = ("headline", "owner", "due_on", "days", "reason", "remedy", "others", "...")

    def value_headline(self, record: overdue.Row) -> str:
        return label(Headline(record.headline))

    def value_days(self, record: overdue.Row) -> int | None:
        return (self.today - record.due_on).days if record.due_on else None

    def value_reason(self, record: overdue.Row) -> str:
        return advise(record.matter(self.today), speech()).why

    def value_remedy(self, record: overdue.Row) -> str:
        return advise(record.matter(self.today), speech()).remedy

    def value_others(self, record: overdue.Row) -> str:
        return ", ".join(label(Headline(other)) for other in record.others)
