"""A visit that was typed while somebody else recorded something: both texts, side by side, before it is saved again."""

from collections.abc import Iterator
from typing import NamedTuple, cast

from django.http import QueryDict
from django.urls import reverse

from caseload.errors import Refusal
from caseload.models import Appointment, Episode
from caseload.reads import meanwhile as reads
from caseload.reads.marks import Seen, seen_of
from caseload.reads.meanwhile import Recorded
from caseload.timetable.terms import Outcome
from caseload.web.forms.record import spoken
from caseload.web.forms.visit import Part, VisitForm
from caseload.wording import label
from caseload.wording.appointments import say_time

CONFLICTS = frozenset({"changed-meanwhile", "recorded-already", "not-attended"})
Typed = tuple[str, str]


class Both(NamedTuple):
    """What is about one digit, or about the appointment: recorded since, and typed here as label and words."""

    about: str
    since: list[Recorded]
    typed: list[Typed]


class Meanwhile(NamedTuple):
    """`href` is the page of the visit that somebody else recorded for this appointment."""

    sentence: str
    both: list[Both]
    href: str = ""


def meanwhile(form: VisitForm, refusal: Refusal) -> Meanwhile | None:
    """Both texts after a conflict, for `visit/conflict.html`; None for every other refusal.

    The form carries new marks from then on: sent again, it is held against what is shown here.
    """
    if refusal.code not in CONFLICTS:
        return None
    data = cast(QueryDict, form.data).copy()
    both = list(_digits(form, data))
    kept = form.kept()
    if kept:
        kept = Appointment.objects.get(pk=kept.pk)
        both = [*_appointment(form, kept, data), *both]
    form.data = data
    visit = getattr(kept, "visit", None)
    return Meanwhile(refusal.message, both, reverse("visit", args=[visit.code]) if visit else "")


def _digits(form: VisitForm, data: QueryDict) -> Iterator[Both]:
    for part in form.parts():
        seen = Seen.read(form.cleaned_data.get(f"{part.prefix}seen") or "")
        episode = Episode.objects.get(pk=part.subject.episode.pk)
        now = seen_of(episode)
        if seen is not None and seen != now:
            data[f"{part.prefix}seen"] = str(now)
            yield Both(part.hand, reads.of_episode(episode, seen), list(_typed(form, part)))


def _appointment(form: VisitForm, kept: Appointment, data: QueryDict) -> Iterator[Both]:
    version = form.cleaned_data.get("version")
    if version is None or version == kept.version:
        return
    data["version"] = str(kept.version)
    how = label(Outcome(kept.outcome)) if kept.outcome else "to come"
    common = [name for name in ("on", "source", "reported_by", "taught", "note") if name in form.fields]
    typed = [(str(form.fields[name].label), spoken(form.fields[name], form.cleaned_data.get(name))) for name in common]
    since = reads.of_appointment(kept, version)
    yield Both(f"appointment, {say_time(kept)}: {how}", since, [each for each in typed if each[1] != "–"])


def _typed(form: VisitForm, part: Part) -> Iterator[Typed]:
    """What was filled in of a digit, beside what the page held before."""
    for name, bound in part.field.items():
        typed = form.cleaned_data.get(bound.name)
        if bound.is_hidden or typed in (None, "", [], False) or typed == form.initial.get(bound.name):
            continue
        yield str(part.field[name].label), spoken(bound.field, typed)
