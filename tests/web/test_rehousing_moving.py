"""Others move only where somebody asks for it, are ticked by nobody but a person, and each chain is moved whole."""

import re
from datetime import date
from urllib.parse import urlencode

import pytest
from django.db import connection
from django.http import QueryDict
from django.test.utils import CaptureQueriesContext

from caseload.actions import appointments, rehousing
from caseload.models import Appointment, Look, Told
from caseload.reads.rehousing import search, to_come, waiting_count
from caseload.reads.rehousing_moving import rehousing_moving
from caseload.web.accepted import accepted_of
from tests.scenario import TODAY, Fernhollow, _staff, by
from tests.web.reading import read, said
from tests.web.test_rehousing import sent

TUESDAY, WEDNESDAY, THURSDAY = (date(2026, 4, day) for day in (7, 8, 9))
ASK = "Look whether moving others would keep everybody"


@pytest.fixture
def lost(clinic: Fernhollow) -> Appointment:
    """Lost must be seen by Tuesday, where Kept has the only place; Kept can go to Thursday, which has a free one."""
    kept = appointments.book(
        [stitches(clinic, "Kept", 24)], by=by(clinic.admin), session=place(clinic, TUESDAY, 640), start=640
    )
    ill = place(clinic, TUESDAY, 540, therapist=_staff("otto", is_therapist=True))
    place(clinic, THURSDAY, 700)
    assert kept.told == Told.TOLD
    return appointments.book([stitches(clinic, "Lost", 22)], by=by(clinic.admin), session=ill, start=540)


def place(clinic: Fernhollow, on: date, start: int, **said):
    return clinic.session(on, start=start, end=start + 20, **said)


def stitches(clinic: Fernhollow, family: str, day: int, **said):
    patient = clinic.patient(family=family, given="Pat", **said)
    return clinic.episode(patient, surgery_on=date(2026, 3, day)).follow_ups.get(key="stitches-out")


def address(lost: Appointment) -> str:
    return f"/sessions/{lost.session.code}/call-off/"


def chain_in(page) -> list[str]:
    return re.findall(r'name="together"\s+value="([^"]+)"', page.content.decode())


def days() -> dict[str, tuple[date, bool, str]]:
    rows = Appointment.objects.values_list("patient__family", "on", "live", "told")
    return {family: (on, live, told) for family, on, live, told in rows}


MOVED = {"Kept": (THURSDAY, True, Told.UNTOLD), "Lost": (TUESDAY, True, Told.UNTOLD)}


def test_nobody_else_is_moved_unless_it_is_asked_for(lost, admin):
    text = read(admin.get(address(lost)))
    assert "2 days after its last day" in text and "KEPT" not in text
    assert f"{address(lost)}?moving=1" in text and ASK in text


def test_where_everybody_is_inside_nothing_is_asked(clinic, lost, admin):
    place(clinic, TUESDAY, 840)
    for query in ("", "?moving=1"):
        text = admin.get(address(lost) + query).content.decode()
        assert ASK not in text and "KEPT" not in text


def test_who_would_move_is_shown_from_where_to_where_and_for_whom_and_not_ticked(lost, admin):
    page = admin.get(address(lost) + "?moving=1")
    text = said(page)
    assert "1 other appointment would have to move, staying inside its days. Of the 1 who need another place, 1" in text
    assert "instead of 0. This is proven" in text and "For LOST, Pat: 1 other would move" in text
    assert "takes the place of KEPT, Pat" in text and "makes room for LOST, Pat" in text
    assert "Tue 7 Apr 2026<small>10:40" in text and "Thu 9 Apr 2026, 11:40" in text
    assert "1 appointment at the same site" in text and '" checked' not in text and len(chain_in(page)) == 1


def test_whose_names_were_shown_is_recorded(lost, admin):
    for query, seen in (("", 1), ("?moving=1", 3)):
        admin.get(address(lost) + query)
        assert Look.objects.filter(route="session-call-off").count() == seen


def test_a_session_is_called_off_and_a_ticked_chain_is_moved_whole(lost, admin):
    page = admin.get(address(lost) + "?moving=1")
    answer = admin.post(address(lost) + "?moving=1", sent(page, why="ill", together=chain_in(page)), follow=True)
    assert "2 patients have other places and are to be told." in answer.content.decode()
    assert days() == MOVED


def test_a_chain_that_is_not_ticked_moves_nobody(lost, admin):
    page = admin.get(address(lost) + "?moving=1")
    admin.post(address(lost) + "?moving=1", sent(page, why="ill"))
    assert days()["Kept"] == (TUESDAY, True, Told.TOLD) and waiting_count() == 1


def test_of_those_who_wait_a_chain_is_moved_from_the_list_once(clinic, lost, admin):
    rehousing.call_off([lost.session], by=by(clinic.admin), why="ill")
    page = admin.get("/rehousing/?moving=1")
    typed = sent(page, together=chain_in(page))
    assert [admin.post("/rehousing/?moving=1", typed).status_code for _ in range(2)] == [302, 302]
    assert days() == MOVED and set(Appointment.objects.values_list("sequence", flat=True)) == {1, 2}


def test_a_chain_that_the_diary_has_overtaken_is_refused_whole_with_a_new_proposal(clinic, lost, admin):
    page = admin.get(address(lost) + "?moving=1")
    typed = sent(page, why="ill", together=chain_in(page))
    place(clinic, WEDNESDAY, 740)
    clinic.book([stitches(clinic, "Quick", 25)], THURSDAY)
    answer = admin.post(address(lost) + "?moving=1", typed)
    text = read(answer)
    assert answer.status_code == 409 and "LOST, Pat" in text and "QUICK, Pat has it" in text
    assert days()["Kept"] == (TUESDAY, True, Told.TOLD) and waiting_count() == 1
    assert "Wed 8 Apr 2026, 12:20" in text and chain_in(answer) != typed["together"]
    assert f'action="/rehousing/?session={lost.session.code}&amp;moving=1"' in text


def test_a_chain_stays_ticked_where_the_reason_is_missing(lost, admin):
    page = admin.get(address(lost) + "?moving=1")
    answer = admin.post(address(lost) + "?moving=1", sent(page, why="", together=chain_in(page)))
    assert answer.status_code == 422 and answer.content.decode().count('" checked') == 1


def test_where_moving_others_would_not_help_the_page_says_so(clinic, lost, admin):
    Appointment.objects.exclude(pk=lost.pk).update(approved_by="Dr V", approved_why="away")
    text = admin.get(address(lost) + "?moving=1").content.decode()
    assert "It would not help" in text and "2 days after its last day" in text


def test_who_is_not_to_be_moved_is_not_asked(clinic, lost):
    kept = Appointment.objects.exclude(pk=lost.pk)
    as_it_is = {"interpreter_told": None, "approved_by": "", "minutes": 20, "way": "in-person", "on": TUESDAY}
    left_alone = {"interpreter_told": True, "approved_by": "Dr V", "minutes": 40, "way": "video", "on": TODAY}
    for field, value in left_alone.items():
        kept.update(**as_it_is | {field: value})
        assert able(lost) == 0, field
    kept.update(**as_it_is)
    assert able(lost) == 1


def test_who_has_another_appointment_to_come_is_not_asked(clinic, lost):
    kept = Appointment.objects.exclude(pk=lost.pk).get()
    other = clinic.episode(kept.patient, surgery_on=date(2026, 3, 24), digit="little")
    clinic.book([other.follow_ups.get(key="stitches-out")], WEDNESDAY)
    assert able(lost) == 0


def able(lost: Appointment) -> int:
    asked = search(to_come(lost.session), at=by().at, without=lost.session)
    return rehousing_moving(asked, without=lost.session).able


def test_asking_others_costs_two_queries_however_many(clinic, lost):
    for turn in range(2):
        appointments.book(
            [stitches(clinic, "More", 24)], by=by(), session=place(clinic, WEDNESDAY, 540 + 40 * turn),
            start=540 + 40 * turn,
        )  # fmt: skip
    asked = search(to_come(lost.session), at=by().at, without=lost.session)
    with CaptureQueriesContext(connection) as queries:
        assert rehousing_moving(asked, without=lost.session).able == 3
    assert len(queries) == 2


@pytest.mark.parametrize(
    "value", ["", "+", "a/b/1+", "a/b/1/c/2", "a/b/1/c/2+a/b/1", "a/b/1/c+d/b/2", "a/b/1+d/b/1/c/99999", "a/b/1+d/b/x"]
)
def test_what_no_page_sent_is_no_chain(value):
    assert accepted_of(QueryDict(urlencode({"together": value}))) == []


def test_places_that_are_not_there_are_refused(clinic, lost, admin):
    assert admin.post("/rehousing/", {"together": "a/b/1+d/b/1/c/9"}).status_code == 409
