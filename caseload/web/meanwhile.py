"""A visit that was typed while somebody else recorded something: both texts, side by side, before it is saved again."""

from collections.abc import Iterable, Iterator
from typing import NamedTuple, cast

from django.http import QueryDict
from django.urls import reverse

from caseload.errors import Refusal
from caseload.models import Appointment, Episode
from caseload.reads import meanwhile as reads
from caseload.reads.marks import Seen, seen_of
from caseload.reads.meanwhile import Recorded
from caseload.timetable.terms import AfterVisit, Outcome
from caseload.web.forms.record import spoken
from caseload.web.forms.visit import VisitForm
from caseload.wording import label
from caseload.wording.appointments import say_time

CONFLICTS = frozenset({"changed-meanwhile", "recorded-already", "not-attended"})
COMMON = ("on", "source", "reported_by", "taught", "note")
Typed = tuple[str, str]


class Both(NamedTuple):
    """What is about one digit, or about the visit as a whole: recorded since, and typed here as label and words."""

    about: str
    since: list[Recorded]
    typed: list[Typed]


class Meanwhile(NamedTuple):
    """`href` is the page of the visit that was recorded instead; `own`: this person saved it with this very form."""

    sentence: str
    both: list[Both]
    href: str = ""
    own: bool = False


def meanwhile(form: VisitForm, refusal: Refusal) -> Meanwhile | None:
    """Both texts after a conflict, for `visit/conflict.html`; None for every other refusal.

    The form carries new marks from then on: sent again, it is held against what is shown here.
    """
    if refusal.code not in CONFLICTS:
        return None
    data, kept = cast(QueryDict, form.data).copy(), form.kept()
    found = both(form, kept)
    for part in form.parts():
        data[f"{part.prefix}seen"] = str(seen_of(part.subject.episode))
    if kept and data.get("version"):
        data["version"] = str(Appointment.objects.values_list("version", flat=True).get(pk=kept.pk))
    form.data = data
    return Meanwhile(refusal.message, [each for each in found if each.since], _recorded(kept))


def not_to_be_saved(form: VisitForm, refusal: Refusal) -> Meanwhile:
    """The same of a form that cannot be sent again: all of what was typed. The details of a refusal of a form that was
    saved before name the address of its `visit`."""
    kept, own = form.occasion.appointment, str(refusal.details.get("visit") or "")
    return Meanwhile(refusal.message, both(form, kept), own or _recorded(kept), bool(own))


def both(form: VisitForm, kept: Appointment | None) -> list[Both]:
    """The visit as a whole, then each digit."""
    form.full_clean()
    return [_whole(form, kept), *_digits(form)]


def _whole(form: VisitForm, kept: Appointment | None) -> Both:
    typed = list(_typed(form, COMMON))
    version = form.data.get("version", "")
    if kept is None or not version.isdecimal():
        return Both("the visit as a whole", [], typed)
    stored = Appointment.objects.get(pk=kept.pk)
    how = label(Outcome(stored.outcome)) if stored.outcome else "to come"
    since = reads.of_appointment(stored, int(version)) if stored.version != int(version) else []
    return Both(f"the appointment, {say_time(stored)}: {how}", since, typed)


def _digits(form: VisitForm) -> Iterator[Both]:
    for part in form.parts():
        seen = Seen.read(form.data.get(f"{part.prefix}seen", ""))
        episode = Episode.objects.get(pk=part.subject.episode.pk)
        reviewed = form.data.get(f"{part.prefix}after") == AfterVisit.REVIEW
        names = (bound.name for name, bound in part.field.items() if name != "minutes" or reviewed)
        typed = _typed(form, names)
        yield Both(part.hand, reads.of_episode(episode, seen) if seen else [], list(typed))


def _typed(form: VisitForm, names: Iterable[str]) -> Iterator[Typed]:
    """What was filled in, beside what the page held before; what cannot be read stands as it was typed."""
    for name in names:
        if name not in form.fields or form[name].is_hidden:
            continue
        read = form.cleaned_data.get(name, form.data.get(name))
        if read not in (None, "", []) and read is not False and read != form[name].initial:
            yield str(form[name].label), spoken(form.fields[name], read)


def _recorded(kept: Appointment | None) -> str:
    visit = getattr(kept, "visit", None)
    return reverse("visit", args=[visit.code]) if visit else ""
