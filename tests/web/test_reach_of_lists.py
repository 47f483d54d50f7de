"""Whoever reaches only their own patients is shown nobody else's: no list, file, fragment, search or day names them.

The patients of a colleague are marked by their family name, which stands nowhere else.
"""

import re
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine
from django.conf import settings
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from pytest_django import DjangoDbBlocker

from caseload.actions import appointments, jobs, rehousing, sheets
from caseload.actions.reach import open_with_reason
from caseload.models import (
    Appointment,
    Episode,
    FillLine,
    FillPlan,
    Job,
    JobState,
    Look,
    Notice,
    Patient,
    Session,
    Staff,
)
from caseload.web import list_files
from tests.scenario import NHS_NUMBERS, TODAY, Fernhollow, by, fernhollow
from tests.signed_in import session_of

pytestmark = pytest.mark.django_db
MARK, BORN = "Zzyxmarker", date(1958, 1, 11)
ON, BUSY, FREE = date(2026, 4, 8), date(2026, 4, 7), date(2026, 4, 9)
TOKEN = r'name="csrfmiddlewaretoken" value="[^"]+"'
Ask = Callable[[Client], bytes]


class Marked:
    """A colleague with sessions, and marked patients in every state that a list asks for."""

    def __init__(self, clinic: Fernhollow) -> None:
        self.clinic = clinic
        self.colleague = Staff.objects.create(username="colin", name="Colin Marsh", is_therapist=True)
        self.late = self.episode("Late", date(2026, 3, 1), nhs_number=NHS_NUMBERS[0], phone="07700 900118")
        self.taken = clinic.session(ON, therapist=self.colleague)
        self.booked = self.book("Booked", self.taken)
        lost = clinic.session(BUSY, therapist=self.colleague)
        self.book("Lost", lost, told="untold")
        rehousing.call_off([lost], by=by(clinic.admin), why="ill")
        self.free = clinic.session(FREE)
        self.own = clinic.episode(clinic.patient(family="Ownfamily"), surgery_on=date(2026, 3, 1))
        Notice.objects.filter(appointment=self.booked).update(
            due_at=by().at - timedelta(hours=1), channel="call", state="waiting", until_at=None, withdrawn_at=None
        )
        self.plan = self.filled()

    def episode(self, given: str, surgery_on: date = date(2026, 3, 24), **known: str) -> Episode:
        patient = self.clinic.patient(family=MARK, given=given, born_on=BORN, **known)
        return self.clinic.episode(patient, surgery_on=surgery_on, therapist=self.colleague)

    def book(self, given: str, session: Session, **said: str) -> Appointment:
        row, start = self.episode(given).follow_ups.get(key="stitches-out"), session.start_minute
        return appointments.book([row], by=by(self.clinic.admin), session=session, start=start, **said)

    def filled(self) -> FillPlan:
        made = {"by": self.clinic.admin, "made_at": by().at, "first_on": ON, "last_on": FREE}
        plan = FillPlan.objects.create(**made, cost=20, bound=20, could_place=1)
        row = self.late.follow_ups.get(key="stitches-out")
        FillLine.objects.create(
            plan=plan, number=1, patient=row.patient, names=[f"{row.episode.code}/{row.key}"], minutes=row.minutes,
            why=[["no-session"]], parts={}, reasons=[], next_best=None,
        )  # fmt: skip
        return plan

    @property
    def patients(self) -> list[Patient]:
        return list(Patient.objects.filter(family=MARK))

    def client(self, staff: Staff) -> Client:
        client = Client()
        client.cookies[settings.SESSION_COOKIE_NAME] = session_of(staff)
        return client

    def asks(self) -> dict[str, Ask]:
        """Every list, as a page and as a file."""
        pages = {
            "caseload": "/caseload/?therapist=all", "overdue": "/overdue/?therapist=all", "to-book": "/to-book/",
            "day": f"/diary/?on={ON}", "week": f"/diary/?on={ON}&as=week", "rehousing": "/rehousing/",
            "notices": "/notices/", "fill": f"/fill/{self.plan.code}/",
            "slot": f"/sessions/{self.free.code}/slots/540/",
            "moving": f"/diary/?on={ON}&moving={self.booked.code}",
        }  # fmt: skip
        files = ("caseload", "overdue", "to-book", "day", "week")
        searches = {"name": MARK[:4], "number": NHS_NUMBERS[0], "telephone": "07700 900118", "birth date": "11/1/1958"}
        return (
            {name: _got(address) for name, address in pages.items()}
            | {f"{name} as a file": _sent(pages[name], kind="csv") for name in files}
            | {f"search by {name}": _sent("/search/", text=text) for name, text in searches.items()}
            | {"search as a file": _sent("/search/", text=MARK, kind="csv"), "caseload as work": _worked}
        )


def _got(address: str) -> Ask:
    return lambda client: client.get(address).content


def _sent(address: str, **typed: str) -> Ask:
    return lambda client: client.post(address, typed).content


def _worked(client: Client) -> bytes:
    """A list that is made behind the pages, as the file that is fetched."""
    at_once, list_files.AT_ONCE = list_files.AT_ONCE, -1  # type: ignore[misc]
    try:
        job = client.post("/caseload/?therapist=all", {"kind": "csv"}).url
    finally:
        list_files.AT_ONCE = at_once  # type: ignore[misc]
    jobs.run_due_jobs(limit=5)
    return client.get(f"{job}file/").content


@pytest.fixture(scope="module")
def made(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Marked]:
    with django_db_blocker.unblock(), transaction.atomic():
        with time_machine.travel(datetime(TODAY.year, TODAY.month, TODAY.day, 9, tzinfo=UTC), tick=False):
            yield Marked(fernhollow())
        transaction.set_rollback(True)


@pytest.fixture
def therapist(made: Marked) -> Client:
    return made.client(made.clinic.therapist)


def naming(made: Marked, client: Client) -> set[str]:
    """The lists that hold a mark."""
    return {name for name, ask in made.asks().items() if MARK.lower() in ask(client).decode().lower()}


def test_a_therapist_is_shown_no_patient_of_a_colleague(made: Marked, therapist: Client):
    assert naming(made, therapist) == set()


@pytest.mark.parametrize("role", ["admin", "lead"])
def test_who_books_or_answers_for_all_is_shown_everybody(made: Marked, role: str):
    assert naming(made, made.client(getattr(made.clinic, role))) == made.asks().keys()


def test_where_the_service_shows_all_a_therapist_is_shown_everybody(made: Marked, therapist: Client, settings):
    settings.PATIENTS_SEEN = "all"
    assert naming(made, therapist) == made.asks().keys()


def test_after_a_reason_a_therapist_is_shown_them(made: Marked, therapist: Client):
    for patient in made.patients:
        open_with_reason(patient, why="On call", by=by(made.clinic.therapist))
    assert naming(made, therapist) == made.asks().keys()


def test_the_numbers_are_those_of_what_is_shown(made: Marked, therapist: Client):
    assert "1 open" in therapist.get("/caseload/?therapist=all").content.decode()
    assert "= 1 open" in " ".join(therapist.get("/overdue/?therapist=all").content.decode().split())
    notices = therapist.get("/notices/").content.decode()
    assert "0 to ring" in notices and "0 to be told" in notices


@pytest.mark.parametrize("name", ["caseload", "overdue"])
def test_a_therapist_begins_with_their_own_and_may_ask_for_all(made: Marked, therapist: Client, name: str):
    nobodys = made.clinic.episode(made.clinic.patient(family="Nobodys"), surgery_on=date(2026, 3, 1), therapist=None)
    first, every = (therapist.get(f"/{name}/{asked}").content.decode() for asked in ("", "?therapist=all"))
    assert made.own.code in first and nobodys.code not in first
    assert made.own.code in every and nobodys.code in every
    assert nobodys.code in made.client(made.clinic.lead).get(f"/{name}/").content.decode()


def test_a_place_that_a_colleagues_patient_has_is_taken_for_a_kind_of_visit(made: Marked, therapist: Client):
    page = therapist.get(f"/diary/?on={ON}").content.decode()
    assert "Taken: Stitches out, 20 minutes" in page
    assert made.booked.code not in page and made.booked.patient.code not in page


def test_its_slot_leads_to_the_reason_and_tells_nothing(made: Marked, therapist: Client):
    page = therapist.get(f"/sessions/{made.taken.code}/slots/540/").content.decode()
    assert "Taken by a patient of a colleague" in page
    assert f"/patients/{made.booked.patient.code}/open/" in page


@pytest.mark.parametrize("text", [NHS_NUMBERS[0], f"{MARK} 11/1/1958", f"11 Jan 1958 {MARK.lower()}"])
def test_who_is_named_exactly_is_told_of_without_a_name(made: Marked, therapist: Client, text: str):
    page = therapist.post("/search/", {"text": text}).content.decode()
    assert "A patient of a colleague" in page and f"/patients/{made.late.patient.code}/open/" in page
    assert MARK not in page.replace(text, "")
    assert Look.objects.filter(patient=made.late.patient, by=made.clinic.therapist, route="search").exists()


@pytest.mark.parametrize("asked", [("Zzyx", "Qqqq"), ("11/1/1958", "12/1/1958"), ("07700 900118", "07700 900119")])
def test_nobody_and_somebody_elses_look_and_cost_the_same(made: Marked, therapist: Client, asked: tuple[str, str]):
    pages, costs = [], []
    for text in asked:
        with CaptureQueriesContext(connection) as queries:
            page = therapist.post("/search/", {"text": text}).content.decode()
        pages.append(re.sub(TOKEN, "", page.split("<main")[1].replace(text, "")))
        costs.append(len(queries))
    assert "Nobody found" in pages[0]
    assert len(set(pages)) == 1 and len(set(costs)) == 1


def test_a_look_alike_of_a_colleague_is_not_named(made: Marked, therapist: Client):
    typed = {"family": "Zzyxmerker", "given": "Late", "born_on": "11/1/1958"}
    page = therapist.post("/patients/new/", typed).content.decode()
    assert "A patient of a colleague: nearly the same name and birth date" in page
    assert MARK not in page and f"/patients/{made.late.patient.code}/open/" in page


def test_a_number_that_a_colleagues_patient_has_names_nobody(made: Marked, therapist: Client):
    typed = {"family": "Other", "given": "New", "nhs_number": NHS_NUMBERS[0], "sure": "on"}
    page = therapist.post("/patients/new/", typed).content.decode()
    assert "already belongs to a patient of a colleague" in page and MARK not in page


@pytest.mark.parametrize(
    ("born_on", "apart"), [(BORN, "with the same birth date"), (date(1960, 1, 2), "with another birth date")]
)
def test_that_a_colleague_has_a_namesake_is_told_but_not_when_they_were_born(made, therapist: Client, born_on, apart):
    known = made.late.patient
    namesake = made.clinic.episode(made.clinic.patient(family=MARK, given="Late", born_on=born_on)).patient
    page = therapist.get(f"/patients/{namesake.code}/").content.decode()
    assert apart in page and "confirm the birth date" in page
    assert f'"/patients/{known.code}/"' not in page and f"/patients/{known.code}/open/" in page


def test_who_has_left_gets_no_file_that_they_asked_for(made: Marked, therapist: Client, monkeypatch):
    monkeypatch.setattr(list_files, "AT_ONCE", 0)
    job = Job.objects.get(code=therapist.post("/caseload/", {"kind": "csv"}).url.split("/")[-2])
    Staff.objects.filter(pk=made.clinic.therapist.pk).update(is_active=False)
    jobs.run_due_jobs(limit=5)
    job.refresh_from_db()
    assert job.state == JobState.FAILED and not hasattr(job, "file")


def test_who_is_no_lead_any_more_gets_only_their_own(made: Marked, monkeypatch):
    monkeypatch.setattr(list_files, "AT_ONCE", 0)
    lead, client = made.clinic.lead, made.client(made.clinic.lead)
    job = client.post("/caseload/", {"kind": "csv"}).url
    Staff.objects.filter(pk=lead.pk).update(is_lead=False, is_therapist=True)
    jobs.run_due_jobs(limit=5)
    assert MARK.upper() not in client.get(f"{job}file/").content.decode().upper()


def test_what_it_costs_does_not_grow_with_the_patients(made: Marked, therapist: Client):
    asked = ("/caseload/?therapist=all", "/overdue/?therapist=all", "/to-book/", f"/diary/?on={ON}", "/notices/")

    def cost() -> list[int]:
        found = []
        for address in asked:
            with CaptureQueriesContext(connection) as queries:
                therapist.get(address)
            found.append(len(queries))
        return found

    few = cost()
    made.book("More", made.clinic.session(ON, therapist=made.colleague, start=800, end=900))
    made.clinic.episode(surgery_on=date(2026, 3, 1))
    assert cost() == few


def test_who_was_seen_weeks_ago_for_a_colleague_is_not_named_on_that_day(made: Marked, therapist: Client):
    then = date(2026, 3, 20)
    session = made.clinic.session(then)
    row = made.episode("Seen", date(2026, 3, 6)).follow_ups.get(key="stitches-out")
    appointments.book([row], by=by(made.clinic.admin, date(2026, 3, 9)), session=session, start=540)
    page = therapist.get("/today/?on=20/3/2026").content.decode()
    assert "1 patient of a colleague is not named here" in page and MARK.upper() not in page.upper()


def test_a_sheet_is_not_made_for_somebody_whose_patient_it_is_not_any_more(made: Marked):
    job = sheets.ask(made.own, language="en-gb", by=by(made.clinic.therapist))
    Episode.objects.filter(pk=made.own.pk).update(therapist=made.colleague)
    jobs.run_due_jobs(limit=5)
    job.refresh_from_db()
    assert "a patient of a colleague" in job.answer and not hasattr(job, "file")
