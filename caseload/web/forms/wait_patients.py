"""Which figure somebody wants to see the patients of: an address as `reads.waits.behind` takes it."""

from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from enum import StrEnum
from typing import Final

from django import forms
from django.utils.functional import cached_property

from caseload.models import Staff
from caseload.parsing import Priority
from caseload.reads import waits
from caseload.reads.names import names
from caseload.reads.waits import Dimension, Member
from caseload.timetable.terms import Suture
from caseload.waits.terms import COMPETING, READ_FROM, Behind, Clock
from caseload.web.forms.waits import WaitsForm
from caseload.wording import label

OF_TARGET: Final = frozenset({Behind.SEEN_WITHIN, Behind.SEEN_LATE, Behind.DUE, Behind.WITHIN, Behind.NOT_WITHIN})
OF_WINDOW: Final = tuple(Behind)[tuple(Behind).index(Behind.EARLY) :]
WORDS: Final[Mapping[Dimension, Iterable[StrEnum]]] = {
    Dimension.SUTURE: Suture,
    Dimension.PRIORITY: Priority,
    Dimension.ENDED: COMPETING,
}
NONE: Final = {
    Dimension.SITE: "no site",
    Dimension.THERAPIST: "no therapist",
    Dimension.SURGEON: "surgeon not known",
    Dimension.SUTURE: "nothing known of stitches",
    Dimension.PRIORITY: "no priority",
}


class WaitPatientsForm(WaitsForm):
    """`which` figure; `group`, such as `surgeon:Ms Alder`, of whom alone; nothing after the colon: not known."""

    which = forms.ChoiceField(required=False, label="Who")
    group = forms.ChoiceField(required=False)
    kept = ("by",)
    field_order: tuple[str, ...] = ("which", *WaitsForm.field_order, "group")

    def _offer(self) -> None:
        super()._offer()
        self.members = dict(self._members())
        said = {name: said for name, (said, _) in self.members.items()}
        self._choose("which", [(which.value, label(which)) for which in self._figures()])
        self._choose("group", [("", "all"), *said.items()])

    def _figures(self) -> Iterator[Behind]:
        """The figures that the clock has."""
        asked = self.data.get("clock", "")
        clock = Clock(asked) if asked in tuple(Clock) else Clock.FIRST_VISIT
        for which in Behind:
            fits_window = READ_FROM.get(clock, clock) is Clock.STITCHES_OUT or which not in OF_WINDOW
            if fits_window and (clock is not Clock.OFFERED or which not in OF_TARGET):
                yield which

    def _members(self) -> Iterator[tuple[str, tuple[str, Member]]]:
        """Each group by its name in an address: its words, and whom it holds."""
        for dimension, found in ((Dimension.SITE, self.names.sites), (Dimension.THERAPIST, self.names.therapists)):
            yield from ((group_name(dimension, each.code), (each.name, Member(dimension, each.id))) for each in found)
        for name in self.surgeons:
            yield group_name(Dimension.SURGEON, name), (name, Member(Dimension.SURGEON, name))
        for dimension, words in WORDS.items():
            yield from ((group_name(dimension, word), (label(word), Member(dimension, str(word)))) for word in words)
        for dimension, said in NONE.items():
            of_rows = dimension in (Dimension.SITE, Dimension.THERAPIST)
            yield group_name(dimension, ""), (said, Member(dimension, None if of_rows else ""))

    @cached_property
    def query(self) -> dict[str, str]:
        return super().query | {"which": str(self.figure)}

    @property
    def figure(self) -> Behind:
        return Behind(self.value("which") or Behind.ALL)

    @property
    def figure_said(self) -> str:
        return label(self.figure)

    @property
    def back_href(self) -> str:
        """Where the figures are."""
        return self.href("waits", which=None, group=None)

    @property
    def member(self) -> Member | None:
        return self.members[self.value("group")][1] if self.value("group") else None

    @property
    def member_said(self) -> str:
        """The group in words, "" where all are asked for."""
        return self.members[self.value("group")][0] if self.value("group") else ""


def wait_patients_form(query: Mapping[str, str], *, staff: Staff, today: date) -> WaitPatientsForm:
    """The form for an address, with what can be chosen read from the record."""
    return WaitPatientsForm(query, names=names(), staff=staff, today=today, surgeons=waits.surgeons())


def group_name(dimension: str, key: str) -> str:
    """A group as addresses carry it: `key` is the one that `waits.figures` have."""
    return f"{dimension}:{key}"
