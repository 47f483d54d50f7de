"""Which pages are measured, whose they are, and what each may cost.

A page's cost is told in units: one is the empty page of somebody signed in, asked for in turns in the same run.
"""

from collections.abc import Iterator
from datetime import date
from typing import Final, NamedTuple

from django.db.models import Count
from django.utils import timezone

from caseload.models import Appointment, Episode, Patient, Staff

EMPTY: Final = "/help/"
LEAD, ONE_REACH, LOCUM = "imogen", "hanneke", "locum"


class Page(NamedTuple):
    """`of` is who looks; `units` and `queries` are the goals, 0 for none; what is `typed` is posted."""

    name: str
    of: str
    path: str
    units: float = 0
    queries: int = 0
    typed: str = ""


def pages() -> Iterator[Page]:
    """Every page of the table, for the record as it stands."""
    for of in (LEAD, ONE_REACH):
        yield Page("overdue, 50 rows, page 1", of, "/overdue/?per=50", 4, 7)
        yield Page("overdue, page 40", of, "/overdue/?per=50&page=40", 4, 7)
        yield Page("caseload, page 1", of, "/caseload/")
        yield Page("caseload, page 40", of, "/caseload/?page=40")
        yield Page("to book", of, "/to-book/")
        yield from _searches(of)
        yield from _records(of)
    day = busy_day()
    yield Page("to-book, by an admin", "maureen", "/to-book/")
    yield Page("today, own day", ONE_REACH, f"/today/?on={day}", 4, 6)
    yield Page("today, 15 patients", LOCUM, f"/today/?on={day}", 4, 6)
    yield Page("diary, one day", LEAD, f"/diary/?on={day}")
    yield Page("diary, a week", LEAD, f"/diary/?on={day}&as=week")
    yield Page("diary, an admin's day", "maureen", f"/diary/?on={day}")
    yield Page("notices", "maureen", "/notices/")
    yield Page("trail, newest", LEAD, "/trail/")
    yield Page("trail of a patient", LEAD, f"/trail/?patient={_patient(LEAD).code}")
    yield Page("waits, twelve months", LEAD, "/waits/?clock=first-visit&period=last-12")
    yield Page("need and room", LEAD, "/need/")


def _searches(of: str) -> Iterator[Page]:
    patient = _patient(of)
    number = patient.identifiers.order_by("scheme").first()
    typed = {
        "name part": patient.family[1:6].lower(), "identifier": number.value if number else "",
        "telephone": patient.phone, "birth date": f"{patient.born_on:%d/%m/%Y}" if patient.born_on else "",
        "no hit": "zzqx", "two letters": patient.family[:2].lower(),
    }  # fmt: skip
    return (Page(f"search: {kind}", of, "/search/", 2, 0, text) for kind, text in typed.items())


def _records(of: str) -> Iterator[Page]:
    patient = _patient(of)
    episode = patient.episodes.filter(ended_on__isnull=True).first()
    assert episode
    yield Page("patient's record", of, f"/patients/{patient.code}/")
    yield Page("episode's record", of, f"/episodes/{episode.code}/")


def _patient(of: str) -> Patient:
    """One with a birth date, a telephone number and a number of some kind; theirs, where only their own are seen."""
    episodes = Episode.objects.open().filter(patient__born_on__isnull=False, patient__identifiers__isnull=False)
    episodes = episodes.exclude(patient__phone="").order_by("-id")
    if of == ONE_REACH:
        episodes = episodes.filter(therapist__username=of)
    return episodes.select_related("patient")[0].patient


def busy_day() -> date:
    """The first day after today with appointments to come, no sooner than tomorrow."""
    later = Appointment.objects.filter(on__gt=timezone.localdate(), live=True, session__isnull=False)
    return later.order_by("on").values_list("on", flat=True)[0]


def locum() -> Staff:
    """Of those who hold a session on the busy day the one whose patients are nearest to fifteen."""
    held = Appointment.objects.filter(on=busy_day(), live=True, session__therapist__username__startswith=LOCUM)
    rows = held.values_list("session__therapist").annotate(many=Count("id")).values_list("session__therapist", "many")
    return Staff.objects.get(pk=min(rows, key=lambda row: abs(row[1] - 15))[0])
