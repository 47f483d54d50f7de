"""What lists can be filtered by. Every field is a choice from a list: an address can ask for nothing else."""

from collections.abc import Mapping
from enum import StrEnum
from typing import Any

from django import forms
from django.utils.safestring import SafeString

from caseload.models import Staff
from caseload.parsing.names import search_key
from caseload.reads import caseload, overdue
from caseload.reads.away import Absent
from caseload.reads.names import Names
from caseload.timetable.terms import Headline, Owner, Suture
from caseload.web.controls import select
from caseload.web.forms.fields import DayField
from caseload.wording import label

MINE, NOBODY, EVERYBODY, IN_HAND = "mine", "nobody", "all", "in-hand"


def choices(words: type[StrEnum], every: str) -> list[tuple[str, str]]:
    return [("", every), *((word.value, label(word)) for word in words)]


class Choices(forms.Form):
    """Choices from lists and typed days, drawn by `controls`. `kept` are fields that have no control."""

    kept: tuple[str, ...] = ()

    def _choose(self, field: str, offered: list[tuple[str, str]]) -> None:
        self.fields[field].choices = offered  # type: ignore[attr-defined]

    def value(self, field: str) -> Any:
        return self.cleaned_data.get(field) or ""

    @property
    def controls(self) -> list[tuple[str, str, SafeString]]:
        """Each field as the id, the label and the markup of its choice; the days are typed."""
        shown = [name for name in self.fields if name not in self.kept]
        return [(self[name].auto_id, str(self[name].label), self._control(name)) for name in shown]

    def _control(self, name: str) -> SafeString:
        field = self.fields[name]
        if isinstance(field, DayField):
            return self[name].as_widget()
        return select(name, self[name].auto_id, field.choices, self._chosen(name))  # type: ignore[attr-defined]

    def _chosen(self, name: str) -> str:
        return str(self.value(name))


class Filters(Choices):
    """Site and therapist, as every list has them. A value that is no choice is left out and named in `remarks`.

    `every` asks for everybody's: nothing, but where a therapist begins with their own.
    """

    OWN_FIRST = False
    """Whether somebody who is a therapist only begins with what is theirs."""
    site = forms.ChoiceField(required=False)
    therapist = forms.ChoiceField(required=False)

    def __init__(self, asked: Mapping[str, str], *, names: Names, staff: Staff) -> None:
        self.every = EVERYBODY if self.OWN_FIRST and staff.roles == {Owner.THERAPIST} else ""
        super().__init__({**asked, "therapist": self._whose(asked)}, auto_id="filter-%s", label_suffix="")
        self.names, self.staff = names, staff
        self._choose("site", [("", "all sites"), *((site.code, site.name) for site in names.sites)])
        mine = [(MINE, "mine")] if self._has_own() else []
        named = [(each.code, each.name) for each in names.therapists]
        self._choose("therapist", [(self.every, "everybody's"), *mine, (NOBODY, "nobody's yet"), *named])
        self._offer()
        self.is_valid()

    def _whose(self, asked: Mapping[str, str]) -> str:
        """Whose rows: as asked, the person's own where nothing is and the list begins with them."""
        asked_for = asked.get("therapist") or (MINE if self.every else "")
        return self.every if asked_for == EVERYBODY else asked_for

    def _has_own(self) -> bool:
        """Whether the list can hold what is this person's own."""
        return self.staff.is_therapist

    def _offer(self) -> None:
        """Fill in the choices of the further fields."""

    @property
    def remarks(self) -> list[str]:
        left_out = [self[name].label for name in self.errors]
        return [f"The filter “{name}” held something that is not on its list, and was left out." for name in left_out]

    @property
    def is_set(self) -> bool:
        return any(self.value(name) not in ("", self.every) for name in self.fields)

    def people(self) -> dict[str, Any]:
        """Site and therapist as the reads take them."""
        site = next((each.id for each in self.names.sites if each.code == self.value("site")), None)
        wanted = self.staff.code if self.value("therapist") == MINE else self.value("therapist")
        therapist = next((each.id for each in self.names.therapists if each.code == wanted), None)
        return {"site": site, "therapist": therapist, "unassigned": wanted == NOBODY}


class CaseloadFilters(Filters):
    OWN_FIRST = True
    state = forms.ChoiceField(required=False)
    owner = forms.ChoiceField(required=False, label="With")
    suture = forms.ChoiceField(required=False, label="Stitches")
    planned = forms.ChoiceField(required=False, label="Surgery", choices=[("", "done"), ("yes", "still to come")])
    field_order = ("therapist", "site", "state", "owner", "suture", "planned")

    def _offer(self) -> None:
        states = choices(Headline, "all")
        self._choose("state", [states[0], (IN_HAND, "in hand"), *states[1:]])
        self._choose("owner", choices(Owner, "anybody"))
        self._choose("suture", choices(Suture, "all"))

    def asked(self, name: str) -> caseload.Asked:
        state = self.value("state")
        return caseload.Asked(
            **self.people(),
            headline="" if state == IN_HAND else state or None,
            owner=self.value("owner"),
            suture=self.value("suture"),
            planned=self.value("planned") == "yes",
            name=search_key(name),
        )


class OverdueFilters(Filters):
    OWN_FIRST = True
    headline = forms.ChoiceField(required=False)
    owner = forms.ChoiceField(required=False, label="With")
    field_order = ("headline", "owner", "therapist", "site")

    def __init__(self, asked: Mapping[str, str], *, names: Names, staff: Staff, absent: Absent) -> None:
        self.covered = absent.passed_to(staff)
        super().__init__(asked, names=names, staff=staff)

    def _has_own(self) -> bool:
        return self.staff.is_therapist or bool(self.covered)

    def _offer(self) -> None:
        self._choose("headline", choices(Headline, "all"))
        self._choose("owner", choices(Owner, "anybody"))

    def asked(self) -> overdue.Asked:
        people = self.people()
        if self.value("therapist") == MINE:
            people |= {"therapist": self.staff.pk, "covered": self.covered}
        return overdue.Asked(headline=self.value("headline"), owner=self.value("owner"), **people)
