"""Everything that the planner holds on one patient, table by table: what a file of it has, and what goes with it.

Most rows hang on the patient by keys, directly or through another row; a few are only known by a code of theirs. A
patient who was merged into another one is the same person.
"""

from collections.abc import Callable, Iterator
from functools import reduce
from operator import or_
from typing import Any, Final, NamedTuple

from django.db.models import Model, Q, QuerySet

from caseload.models import (
    Appointment,
    Draft,
    Episode,
    IntakeRow,
    Job,
    JobFile,
    Notice,
    Patient,
    Referral,
    Seat,
    Standing,
    UndoStep,
    Visit,
    Wait,
    WorkedOn,
)
from caseload.reads.files import FILES


class Whose(NamedTuple):
    """Keys of one person, and every code by which an address or a job names something of theirs."""

    keys: frozenset[int]
    codes: frozenset[str]


class Part(NamedTuple):
    """The rows of one table that are about a person. `left_out` is why a file does without them, where it does; of
    each row it does without the columns `unsaid`."""

    name: str
    model: type[Model]
    where: Callable[[Whose], Q]
    says: str
    left_out: str = ""
    unsaid: frozenset[str] = frozenset()

    def rows(self, whose: Whose) -> QuerySet[Any]:
        return self.model._base_manager.filter(self.where(whose)).order_by("pk")


def by_key(path: str) -> Callable[[Whose], Q]:
    return lambda whose: Q(**{f"{path}__in": whose.keys})


def _any(conditions: Iterator[Q]) -> Q:
    return reduce(or_, conditions, Q(pk__in=()))


def _typed_for(whose: Whose) -> Q:
    """Drafts stand under the address of their form, which names what it is about."""
    return _any(Q(place__contains=code) for code in sorted(whose.codes))


def _asked_about(whose: Whose, path: str = "asked") -> Q:
    names = ("patient", "episode")
    return _any(Q(**{f"{path}__{name}": code}) for name in names for code in sorted(whose.codes))


def _about_job(whose: Whose) -> Q:
    return _asked_about(whose, "job__asked")


def _in_lists(whose: Whose) -> Q:
    """Rows of theatre lists that were taken for them, or are read as theirs."""
    return _any(Q(match__patient=code) for code in sorted(whose.codes)) | by_key("patient")(whose)


_LISTED: Final = frozenset({"match", "decision", "identity", "problems"})
"""How the planner held a row of a list against everybody it knows: these are others too."""
PARTS: Final = (
    *(Part(file.name, file.model, by_key(file.patient), file.says) for file in FILES if file.patient),
    Part("waits", Wait, by_key("patient"), "what they waited for, from when until when, as derived"),
    Part("overdue", Standing, by_key("episode__patient"), "when each episode was in hand or overdue, as derived"),
    Part("theatre-lists", IntakeRow, _in_lists, "their rows of uploaded theatre lists", unsaid=_LISTED),
    Part("not-saved", Draft, _typed_for, "what somebody typed about them and has not saved"),
    Part("", Seat, by_key("appointment__patient"), "which slots an appointment holds", "the appointment says its time"),
    Part("", UndoStep, by_key("appointment__patient"), "the last step on an appointment", "the trail says the same"),
    Part("", WorkedOn, by_key("patient"), "who has their row of a list open", "it is true for this moment only"),
    Part("", Job, _asked_about, "that a file about them was asked for", "the trail or a look says the same"),
    Part("", JobFile, _about_job, "such a file, for a day", "it is a copy of what is here"),
)


def whose(patient: Patient) -> Whose:
    """The person behind a patient, with everybody merged into them."""
    keys = frozenset(Patient.objects.filter(Q(pk=patient.pk) | Q(merged_into=patient.pk)).values_list("pk", flat=True))
    of_patient = (Referral, Episode, Visit, Appointment, Notice)
    codes = set(Patient.objects.filter(pk__in=keys).values_list("code", flat=True))
    for model in of_patient:
        codes.update(model._base_manager.filter(patient__in=keys).values_list("code", flat=True))
    return Whose(keys, frozenset(codes))
