"""A therapist's day: which patients stand where, with what is due, what is locked and what must be known before."""

from datetime import date, timedelta

import pytest

from caseload.actions import findings, instructions
from caseload.models import FollowUp, Look, Patient
from caseload.reads import today
from caseload.reads.away import Absent
from caseload.reads.lines import Stored
from caseload.reads.prepared import Prepared
from caseload.reads.timetables import timetables_of
from caseload.reads.today import Part, day_of, place
from caseload.timetable.terms import ActivityKind, Lock
from tests.scenario import TODAY, by

ADDRESS = "/today/"


def stored(**days) -> Stored:
    own = {
        "episode_id": 1, "key": "stitches-out", "kind": "stitches-out",
        "earliest_on": TODAY - timedelta(days=2), "latest_on": TODAY + timedelta(days=2),
        "proposed_on": TODAY, "booked_on": None, "done_on": None, "provisional": False, "minutes": 20,
    }  # fmt: skip
    return Stored(**(own | days))


@pytest.mark.parametrize(
    ("days", "expected"),
    [
        ({"booked_on": TODAY}, (Part.BESIDE, None)),
        ({"booked_on": TODAY + timedelta(days=2)}, (Part.AHEAD, TODAY + timedelta(days=2))),
        ({"booked_on": TODAY + timedelta(days=8)}, None),
        ({"booked_on": TODAY - timedelta(days=1)}, (Part.OUTCOME, None)),
        ({}, (Part.PROPOSED, None)),
        ({"proposed_on": TODAY + timedelta(days=1)}, (Part.AHEAD, TODAY + timedelta(days=1))),
        ({"proposed_on": TODAY - timedelta(days=1)}, (Part.OPEN, None)),
        ({"proposed_on": None}, (Part.OPEN, None)),
        ({"latest_on": TODAY - timedelta(days=1), "proposed_on": TODAY - timedelta(days=1)}, (Part.LATE, None)),
        ({"earliest_on": TODAY + timedelta(days=1), "proposed_on": None}, None),
    ],
)
def test_a_follow_up_stands_in_one_part_of_the_day(days, expected):
    assert place(stored(**days), TODAY, TODAY) == expected


def book(clinic, episode, on: date, *, told_on: date) -> None:
    due = episode.follow_ups.get(key="stitches-out")
    clinic.book([due], on, today=told_on)


def test_whoever_is_booked_today_stands_first(clinic, therapist):
    episode = clinic.episode(clinic.patient(family="Booked"), surgery_on=date(2026, 3, 18), today=date(2026, 3, 20))
    book(clinic, episode, TODAY, told_on=date(2026, 3, 20))
    page = therapist.get(ADDRESS).content.decode()
    assert page.index("BOOKED, ") > page.index("09:00 to 12:20 Fernhollow") and "1 booked in 1 session" in " ".join(
        page.split()
    )


def test_a_day_without_patients_still_says_so(clinic, therapist):
    clinic.session(TODAY)
    clinic.episode(surgery_on=date(2026, 3, 14))
    page = therapist.get(ADDRESS).content.decode()
    assert "Nobody is booked." in page and "2 days late" in page


def test_what_is_locked_names_the_finding_that_is_missing(clinic, therapist):
    clinic.episode(surgery_on=date(2026, 3, 18))
    page = therapist.get(ADDRESS).content.decode()
    assert "Tight grip · heavy lifting · heavy, wet or dirty work" in page
    assert "until the wound is recorded closed and the stitches are recorded out" in page


def test_what_is_locked_agrees_with_the_timetable(clinic):
    episode = clinic.episode(surgery_on=date(2026, 3, 18))
    findings.record(episode, by=by(clinic.therapist), kind="stitches", on=TODAY, stitches_out=4, stitches_left=0)
    findings.record(episode, by=by(clinic.therapist), kind="wound", on=TODAY, wound="not-closed")
    assert shown(clinic, episode) == derived(episode)


def test_an_instruction_and_a_trim_lock_as_the_timetable_has_it(clinic):
    episode = clinic.episode(surgery_on=date(2026, 3, 18), suture="absorbable")
    findings.record(episode, by=by(clinic.therapist), kind="trim-needed", on=TODAY)
    instructions.give(episode, by=by(clinic.lead), item="driving", locked=True, by_whom="Mr Hale", why="weak grip")
    assert shown(clinic, episode) == derived(episode) and Lock.INSTRUCTION in derived(episode)[ActivityKind.DRIVING]


def derived(episode) -> dict[ActivityKind, set[Lock]]:
    activities = timetables_of([episode], as_of=TODAY)[episode.pk].activities
    return {activity.kind: set(activity.locks) for activity in activities if activity.locks}


def shown(clinic, episode) -> dict[ActivityKind, set[Lock]]:
    day = day_of(clinic.therapist, TODAY, at=by().at, absent=Absent())
    entries = [entry for section in day.sections for entry in section.entries]
    locked = next(entry for entry in entries if entry.person.id == episode.pk).locked
    return {kind: set(locks) for kind, locks in locked.items()}


def test_a_fresh_wound_on_one_digit_locks_the_whole_hand_on_the_other(clinic):
    healed = clinic.episode(surgery_on=date(2026, 2, 18))
    clinic.episode(healed.patient, digit="index", surgery_on=date(2026, 3, 30))
    stitches = {"kind": "stitches", "stitches_out": 4, "stitches_left": 0}
    for said in (stitches, {"kind": "wound", "wound": "closed"}):
        findings.record(healed, by=by(clinic.therapist), on=TODAY, source="seen", **said)
    locked = shown(clinic, healed)
    assert locked[ActivityKind.HEAVY_LIFTING] == {Lock.WOUND_CLOSED}
    assert ActivityKind.SCAR_MASSAGE not in locked


def test_where_no_gate_is_shut_the_days_are_still_named(clinic, therapist):
    """A closed wound on day 7 leaves heavy lifting its day 21: "nothing locked" would be read as leave to lift."""
    episode = clinic.episode(surgery_on=date(2026, 3, 25), suture="none", technique="open")
    findings.record(episode, by=by(clinic.therapist), on=TODAY, source="seen", kind="wound", wound="closed")
    page = therapist.get(ADDRESS, {"on": "2026-04-08"}).content.decode()
    assert "no gate shut" in page and "each activity from its own day" in page and "nothing locked" not in page


def test_what_must_be_known_before_stands_with_the_name(clinic, therapist):
    patient = clinic.patient(interpreter=True, language="Polish", dressing_allergy="iodine dressings")
    episode = clinic.episode(patient, surgery_on=date(2026, 3, 18), raised_risk=True)
    findings.record(episode, by=by(clinic.therapist), kind="red-flag", on=TODAY, note="fever")
    page = therapist.get(ADDRESS).content.decode()
    for warning in ("red flag open", "dressing allergy: iodine dressings", "interpreter: Polish", "raised risk"):
        assert warning in page


def test_two_patients_of_one_name_are_both_marked(clinic, therapist):
    for born_on in (date(1950, 1, 1), date(1970, 1, 1)):
        clinic.episode(clinic.patient(given="Ann", family="Same", born_on=born_on), surgery_on=date(2026, 3, 18))
    assert therapist.get(ADDRESS).content.decode().count("same name today: check the birth date") == 2


def test_one_patient_with_two_fingers_is_not_a_namesake(clinic, therapist):
    patient = clinic.patient()
    for digit in ("ring", "middle"):
        clinic.episode(patient, digit=digit, surgery_on=date(2026, 3, 18))
    assert "same name" not in therapist.get(ADDRESS).content.decode()


def test_a_colleagues_patients_are_not_mine(clinic, therapist):
    clinic.episode(clinic.patient(family="Theirs"), therapist=None, surgery_on=date(2026, 3, 18))
    assert "THEIRS" not in therapist.get(ADDRESS).content.decode()


@pytest.mark.parametrize("cut", [False, True])
def test_what_does_not_fit_is_cut_at_the_last_to_end_and_said(clinic, therapist, monkeypatch, cut):
    for day in (4, 18):
        clinic.episode(surgery_on=date(2026, 3, day))
    whole = day_of(clinic.therapist, TODAY, at=by().at, absent=Absent())
    due = FollowUp.objects.due().filter(earliest_on__lte=TODAY + timedelta(days=today.AHEAD_DAYS))
    in_order = [(row.episode_id, row.key) for row in due.order_by("latest_on", "id")]
    most = 1 if cut else len(in_order)
    monkeypatch.setattr(today, "MOST", most)
    monkeypatch.setattr(today, "_SHOWN", Prepared(today._shown))  # whose text holds the limit
    found = day_of(clinic.therapist, TODAY, at=by().at, absent=Absent())
    assert found.cut is cut and not whole.cut
    assert shown_of(found) == shown_of(whole) - set(in_order[most:])
    assert (shown_of(found) < shown_of(whole)) is cut
    assert ("There is more that is due than fits here" in therapist.get(ADDRESS).content.decode()) is cut


def shown_of(day) -> set[tuple[int, str]]:
    return {(row.episode_id, row.key) for section in day.sections for entry in section.entries for row in entry.due}


def test_ten_queries_do_for_any_number_of_patients(clinic, therapist, django_assert_max_num_queries):
    clinic.episode(surgery_on=date(2026, 3, 18))
    therapist.get(ADDRESS)
    with django_assert_max_num_queries(10) as few:
        therapist.get(ADDRESS)
    for _ in range(12):
        clinic.episode(surgery_on=date(2026, 3, 18))
    with django_assert_max_num_queries(10) as many:
        therapist.get(ADDRESS)
    assert len(few) == len(many)


def test_an_empty_day_teaches_what_will_stand_here(therapist):
    assert "Nothing is due for you within a week" in therapist.get(ADDRESS).content.decode()


def test_whoever_has_no_patients_is_led_to_the_overdue_list(admin):
    assert "This page is the day of a therapist" in admin.get(ADDRESS).content.decode()


def test_the_day_is_had_as_a_file_line_by_line(clinic, therapist):
    clinic.episode(clinic.patient(dressing_allergy="iodine"), surgery_on=date(2026, 3, 18))
    Patient.objects.update(family="=1+1")
    answer = therapist.post(ADDRESS, {"kind": "csv"})
    header, row, *_ = answer.content.decode("utf-8-sig").splitlines()
    assert header.startswith('"Part","Day of the list","Family name"')
    assert '"=1+1"' not in row and "=1+1" in row
    assert "Stitches out" in row and "dressing allergy: iodine" in row
    assert Look.objects.filter(route="today-file").exists()


def test_a_file_of_an_unknown_kind_is_refused(therapist):
    assert therapist.post(ADDRESS, {"kind": "exe"}).status_code == 400
