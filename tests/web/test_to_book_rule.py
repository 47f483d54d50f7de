"""What is to be booked: the form that the database answers against the plain rule, and usable days against counting."""

import random
from datetime import date, timedelta
from itertools import product

import pytest

from caseload.actions import episodes
from caseload.booking.good import Booked, faults
from caseload.booking.needs import minutes_for
from caseload.models import Appointment, FollowUp, Purpose, Session
from caseload.reads import to_book, to_book_order
from caseload.reads.openings import asked_of
from caseload.reads.to_book import AHEAD, REVIEWS, Asked
from caseload.reads.to_book_details import details
from caseload.timetable.terms import Ending, Way
from tests.scenario import TODAY, by

EVERYTHING = Asked()


def to_be_booked(row: FollowUp, today: date) -> bool:
    """The rule in plain words of Python, for one follow-up."""
    episode = row.episode
    if row.state != "due" or not row.minutes or row.earliest_on > today + AHEAD:
        return False
    if episode.ended_on or (episode.surgery_on and episode.surgery_on > today):
        return False
    live = row.purposes.filter(live=True).first()
    if live is None:
        return True
    held_by = live.appointment
    if held_by.on < today:
        return False
    served = [each.follow_up for each in held_by.purposes.filter(live=True, follow_up__state="due")]
    short = held_by.minutes < minutes_for([each.minutes for each in served], row.patient.interpreter)
    booked = Booked(held_by.on, 999, held_by.site_id, Way(held_by.way), bool(held_by.approved_by), None)
    return short or bool(faults([asked_of(row)], booked, site=episode.site_id, interpreter=row.patient.interpreter))


@pytest.mark.parametrize("seed", range(4))
def test_the_database_and_the_plain_rule_list_the_same(clinic, seed):
    dice = random.Random(seed)
    for _ in range(14):
        some_life(clinic, dice)
    found = {row.pk for row in to_book.unbooked(EVERYTHING, TODAY)}
    rows = FollowUp.objects.select_related("episode", "patient")
    assert found == {row.pk for row in rows if to_be_booked(row, TODAY)}
    assert {row.id for row in to_book.rows(EVERYTHING, TODAY)} == found
    assert asked_in_turn_and_anew(clinic) == []
    told = details(to_book.rows(EVERYTHING, TODAY), by(clinic.admin).at)
    assert all(bool(detail.appointment) == bool(detail.faults) for detail in told.values())


def asked_in_turn_and_anew(clinic) -> list[Asked]:
    """The lists, narrowed in every way and by who reads, that a text made once answers otherwise than the query."""
    sites, people = (None, clinic.site.pk, clinic.quay.pk), (None, clinic.therapist.pk, clinic.lead.pk)
    narrowed = [Asked(*each) for each in product(("", "stitches-out"), sites, people)] + [Asked(unassigned=True)]
    return [
        asked
        for asked, reader in product(narrowed, (by(clinic.admin), by(clinic.therapist)))
        if {each.id for each in to_book.ranked(asked, TODAY, reader)}
        != {row.pk for row in to_book.unbooked(asked, TODAY, reader)}
    ]


def some_life(clinic, dice: random.Random) -> None:
    """An episode of any age, with days noted for some of its follow-ups: good, or wrong in any way."""
    patient = clinic.patient(interpreter=dice.random() < 0.3)
    suture = dice.choice(["non-absorbable", "absorbable", "unknown"])
    start = TODAY - timedelta(days=dice.randint(-3, 60))
    episode = clinic.episode(patient, surgery_on=start, suture=suture)
    due = [row for row in episode.follow_ups.due() if row.minutes]
    for rows in [due[:2]] if dice.random() < 0.2 else [[row] for row in due]:
        if dice.random() < 0.7:
            noted(clinic, dice, rows)
    if dice.random() < 0.1 and start <= TODAY:
        episodes.close(episode, by=by(clinic.lead), version=None, how=Ending.NOT_DONE, on=TODAY)


def noted(clinic, dice: random.Random, rows: list[FollowUp]) -> None:
    """Written past the acts, which refuse much of it."""
    appointment = Appointment.objects.create(
        patient=rows[0].patient, site=dice.choice([clinic.site, clinic.site, clinic.quay]),
        on=rows[0].target_on + timedelta(days=dice.randint(-6, 8)), minutes=dice.choice([20, 20, 40, 60, 80]),
        way=dice.choice([Way.IN_PERSON, Way.IN_PERSON, Way.TELEPHONE]), booked_at=by().at,
        approved_by=dice.choice(["", "Mr Adeyemi-Voss"]),
    )  # fmt: skip
    Purpose.objects.bulk_create(Purpose(appointment=appointment, follow_up=row) for row in rows)


@pytest.mark.parametrize("seed", range(3))
def test_usable_days_are_those_on_which_a_session_of_the_site_takes_it(clinic, seed):
    dice = random.Random(seed)
    for _ in range(8):
        some_life(clinic, dice)
    for ahead in range(0, 40):
        if dice.random() < 0.5:
            takes = dice.choice([[], ["stitches-out"], ["wound-check", "outcome-review"]])
            clinic.session(TODAY + timedelta(days=ahead), takes=takes, site=dice.choice([clinic.site, clinic.quay]))
    for row in to_book.rows(EVERYTHING, TODAY):
        first, last = max(TODAY, row.earliest_on), to_book.last_day(row, TODAY)
        held = Session.objects.filter(live=True, site=row.site_id, on__gte=first, on__lte=last)
        assert row.usable == len({each.on for each in held if not each.takes or row.kind in each.takes})


def test_who_has_nothing_booked_comes_before_who_has_a_late_place(clinic):
    booked, unbooked = (clinic.episode(surgery_on=date(2026, 3, day)) for day in (2, 9))
    clinic.book([booked.follow_ups.get(key="stitches-out")], date(2026, 4, 2))
    late = [row.code for row in to_book.rows(Asked(kind="stitches-out"), TODAY)]
    assert late == [unbooked.code, booked.code]


def test_rows_are_read_some_at_a_time_in_the_order_of_the_list(clinic, monkeypatch):
    monkeypatch.setattr(to_book, "BATCH", 2)
    for day in (2, 9, 16):
        clinic.episode(surgery_on=date(2026, 3, day))
    order = to_book.ranked(EVERYTHING, TODAY)
    assert len(order) > 4
    assert [(row.id, row.usable) for row in to_book.read(order)] == [(each.id, each.usable) for each in order]


@pytest.mark.parametrize("seed", range(3))
def test_however_it_is_looked_at_the_order_is_that_of_the_plain_rule(clinic, seed, monkeypatch):
    monkeypatch.setattr(to_book_order, "AT_ONCE", 3)
    monkeypatch.setattr(to_book_order, "BATCH", 2)
    dice = random.Random(seed)
    for _ in range(8):
        some_life(clinic, dice)
    for ahead in range(0, 40, 3):
        clinic.session(TODAY + timedelta(days=ahead))
    whole = [row.id for row in sorted(to_book.rows(EVERYTHING, TODAY), key=place_by_rule)]
    for start in range(len(whole) + 1):
        order, anew = to_book.ranked(EVERYTHING, TODAY), to_book.ranked(EVERYTHING, TODAY)
        assert [each.id for each in order[start : start + 4]] == whole[start : start + 4]
        assert [each.id for each in order.around(start)] == whole[start:] + whole[:start]
        assert [anew.place(key) for key in whole[start:]] == list(range(start, len(whole)))
    assert len(whole) > 5 and order.find(None) is None and order.find(0) is None


def place_by_rule(row: to_book.Row) -> tuple[object, ...]:
    return row.usable, bool(row.booked_on), row.kind in REVIEWS, row.latest_on, row.search_key, row.id
