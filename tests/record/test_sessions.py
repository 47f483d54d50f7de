"""Sessions: the week, the days dated from it, changes that lose nobody, absences, closures, changes of the clocks."""

from datetime import date, timedelta

import pytest
from django.db import IntegrityError, transaction

from caseload.actions import service, sessions, weeks
from caseload.actions.dating import HORIZON, make, make_nightly, make_sessions
from caseload.errors import Refusal
from caseload.models import Appointment, FollowUp, Session, Slot, Staff, WeeklySession
from caseload.reads.rules import rules_of
from caseload.reads.weeks import empty_windows, without_day
from caseload.timetable.terms import FollowUpKind
from tests.record.refusing import refused
from tests.scenario import TODAY, by

THURSDAY = 3
FIRST = date(2026, 4, 2)
"""The first Thursday; the day proposed for the stitches of surgery on 20 March is day 13, this one."""


def week(clinic, *, today=TODAY, **own):
    held = {"therapist": clinic.therapist, "site": clinic.site, "weekday": THURSDAY, "start": 540, "end": 740} | own
    return weeks.save_week(by=by(clinic.lead, today), **{"from_on": today} | held)


def days(row: WeeklySession) -> list[date]:
    return list(row.sessions.filter(live=True).order_by("on").values_list("on", flat=True))


def colleague() -> Staff:
    return Staff.objects.create(username="carla", name="Carla Reed", is_therapist=True)


def booked(clinic, on=FIRST, **said) -> Appointment:
    return clinic.book([clinic.episode().follow_ups.get(key="stitches-out")], on, **said)


def test_a_saved_week_is_dated_ahead_on_open_days_only(clinic):
    held = days(week(clinic, weekday=0))
    assert held[0] == date(2026, 4, 13) and date(2026, 5, 4) not in held
    assert held[-1] <= TODAY + HORIZON < held[-1] + timedelta(days=7)


def test_a_dated_session_has_its_slots(clinic):
    session = week(clinic).sessions.get(on=FIRST)
    assert list(session.slots.values_list("minute", flat=True)) == list(range(540, 740, 20))


def test_making_again_makes_nothing(clinic):
    week(clinic)
    before = Slot.objects.count()
    assert make_sessions(by=by()).sessions == () and Slot.objects.count() == before


def test_each_night_makes_the_next_days(clinic):
    row = week(clinic)
    make_nightly(by(today=TODAY + timedelta(days=7)).at)
    assert days(row)[-1] > TODAY + HORIZON


def test_making_is_quick_however_many_sessions(clinic, django_assert_max_num_queries):
    rows = [week(clinic, weekday=weekday) for weekday in range(5)]
    Session.objects.all().delete()
    with django_assert_max_num_queries(20):
        make(rows, first=TODAY, last=TODAY + HORIZON)
    assert Session.objects.count() > 100


@pytest.mark.parametrize(
    ("own", "why"),
    [
        ({"start": 545}, "session-hours"),
        ({"end": 550}, "session-hours"),
        ({"ways": []}, "session-ways"),
        ({"weekday": 5}, "weekday-closed"),
        ({"from_on": date(2026, 3, 31)}, "day-past"),
        ({"ends_on": date(2026, 3, 31)}, "session-dates"),
    ],
)
def test_a_week_that_cannot_be(clinic, own, why):
    assert refused(lambda: week(clinic, **own)) == why
    assert not Session.objects.exists()


def test_two_sessions_of_one_therapist_at_once_are_refused_naming_the_other(clinic):
    week(clinic)
    with pytest.raises(Refusal, match="at Fernhollow on Thursdays, 09:00 to 12:20") as refused:
        week(clinic, site=clinic.quay, start=720, end=800)
    assert refused.value.code == "two-places"


@pytest.mark.parametrize(("start", "minute"), [(540, 540), (550, 550), (530, 530), (550, 540)])
def test_the_database_refuses_a_therapist_in_two_places(clinic, start, minute):
    clinic.session(FIRST)
    other = Session.objects.create(
        therapist=clinic.therapist, site=clinic.quay, on=FIRST, start_minute=start, end_minute=start + 60
    )
    with pytest.raises(IntegrityError), transaction.atomic():
        Slot.objects.create(session=other, therapist=clinic.therapist, on=FIRST, minute=minute)


def test_a_one_off_session_keeps_its_time_when_the_week_is_dated(clinic):
    clinic.session(FIRST, site=clinic.quay, start=700, end=800)
    row = week(clinic)
    assert FIRST not in days(row)
    left = make_sessions(by=by()).left_out
    assert any("Thu 2 Apr 2026: not made, for the therapist holds another session" in said for said in left)


def test_changing_from_a_day_on_ends_the_old_week_the_day_before(clinic):
    row = week(clinic)
    new = week(clinic, weekly=row, version=1, start=600, end=720, from_on=date(2026, 4, 10))
    row.refresh_from_db()
    assert row.ends_on == date(2026, 4, 9) and days(row) == [FIRST, date(2026, 4, 9)]
    assert new.sessions.get(on=date(2026, 4, 16)).slots.count() == 6
    assert set(new.sessions.values_list("start_minute", flat=True)) == {600}


def test_changing_before_it_began_changes_it_in_place(clinic):
    row = week(clinic)
    assert week(clinic, weekly=row, version=1, end=800) == row
    assert row.sessions.get(on=FIRST).slots.count() == 13


def test_a_week_that_somebody_else_changed_is_not_written_over(clinic):
    row = week(clinic)
    assert refused(lambda: week(clinic, weekly=row, version=7)) == "changed-meanwhile"


def test_remaking_keeps_seats_and_holds(clinic):
    row = week(clinic)
    appointment = booked(clinic)
    Slot.objects.filter(session=appointment.session, minute=560).update(held_why="training")
    seated = list(appointment.seats.values_list("slot", flat=True))
    week(clinic, weekly=row, version=1, start=520, end=640)
    session = Session.objects.get(pk=appointment.session_id)
    assert (session.start_minute, session.changed) == (520, False)
    assert list(appointment.seats.values_list("slot", flat=True)) == seated
    assert session.slots.get(minute=560).held_why == "training" and session.slots.count() == 6


@pytest.mark.parametrize("own", [{"start": 600, "end": 700}, {"start": 550, "end": 750}, {"weekday": 2}])
def test_a_session_whose_patients_would_be_left_outside_keeps_its_hours(clinic, own):
    row = week(clinic)
    appointment = booked(clinic)
    week(clinic, weekly=row, version=1, **own)
    session = Session.objects.get(pk=appointment.session_id)
    assert (session.on, session.start_minute, session.live, session.changed) == (FIRST, 540, True, True)
    assert appointment.seats.exists() and appointment.purposes.get().live


def test_on_another_weekday_the_empty_sessions_follow(clinic):
    row = week(clinic)
    week(clinic, weekly=row, version=1, weekday=2)
    assert {on.weekday() for on in days(row)} == {2}


def test_ending_a_week_keeps_what_has_patients(clinic):
    row = week(clinic)
    booked(clinic)
    weeks.end_week(row, by=by(clinic.lead), version=1, on=TODAY)
    assert days(row) == [FIRST]
    assert refused(lambda: weeks.end_week(row, by=by(clinic.lead), version=2, on=date(2026, 3, 1))) == "day-past"


def test_a_week_that_has_ended_is_neither_ended_later_nor_drawn_out_by_a_change(clinic):
    row = week(clinic, ends_on=date(2026, 4, 10))
    assert refused(lambda: weeks.end_week(row, by=by(clinic.lead), version=1, on=date(2026, 4, 30))) == "session-dates"
    week(clinic, today=date(2026, 5, 1), weekly=row, version=1)
    row.refresh_from_db()
    assert row.ends_on == date(2026, 4, 10) and WeeklySession.objects.count() == 2


def test_a_week_passes_to_another_therapist_with_its_seats(clinic):
    row, carla = week(clinic), colleague()
    appointment = booked(clinic)
    week(clinic, weekly=row, version=1, therapist=carla)
    session = Session.objects.get(pk=appointment.session_id)
    assert session.therapist == carla and set(session.slots.values_list("therapist", flat=True)) == {carla.pk}


@pytest.mark.parametrize(
    ("own", "why"),
    [
        ({"on": date(2026, 4, 3)}, "day-closed"),
        ({"on": date(2028, 4, 3)}, "day-closed"),
        ({"on": date(2026, 3, 31)}, "day-past"),
        ({"start": 545}, "session-hours"),
        ({"ways": []}, "session-ways"),
    ],
)
def test_a_session_of_one_day_that_cannot_be(clinic, own, why):
    held = {"therapist": clinic.therapist, "site": clinic.site, "on": FIRST, "start": 540, "end": 740} | own
    assert refused(lambda: sessions.add_session(by=by(clinic.admin), **held)) == why


def test_only_a_therapist_holds_a_session(clinic):
    held = {"therapist": clinic.admin, "site": clinic.site, "on": FIRST, "start": 540, "end": 740}
    assert refused(lambda: sessions.add_session(by=by(clinic.admin), **held)) == "not-a-therapist"


def test_a_session_is_not_changed_under_its_patients(clinic):
    session = booked(clinic).session
    with pytest.raises(Refusal, match="FAMILY") as refused:
        sessions.change_session(session, by=by(clinic.admin), version=1, start_minute=600)
    assert refused.value.code == "appointments-outside"
    sessions.change_session(session, by=by(clinic.admin), version=1, end_minute=800)
    assert session.slots.count() == 13


def sundays(clinic):
    clinic.site.weekdays = "0123456"
    clinic.site.save()


def test_a_session_from_the_missing_hour_is_refused_and_not_dated(clinic):
    """On 29 March 2026 the clocks of London leave out 01:00 to 02:00 (EU directive 2000/84/EC; kept in British law)."""
    sundays(clinic)
    on, today = date(2026, 3, 29), date(2026, 3, 20)
    held = {"therapist": clinic.therapist, "site": clinic.site, "on": on, "start": 60, "end": 240}
    assert refused(lambda: sessions.add_session(by=by(clinic.admin, today), **held)) == "no-such-time"
    row = week(clinic, weekday=6, start=60, end=240, today=today)
    assert on not in days(row) and date(2026, 4, 5) in days(row)
    assert any("leave out 01:00" in said for said in make_sessions(by=by(today=today)).left_out)


def test_slots_inside_the_missing_hour_are_left_out(clinic):
    sundays(clinic)
    row = week(clinic, weekday=6, start=30, end=160, today=date(2026, 3, 20))
    missing, ordinary = (row.sessions.get(on=on) for on in (date(2026, 3, 29), date(2026, 3, 22)))
    assert list(missing.slots.values_list("minute", flat=True)) == [30, 50, 130]
    assert ordinary.slots.count() == 6


def test_on_the_day_with_a_double_hour_a_session_keeps_its_hours(clinic):
    sundays(clinic)
    row = week(clinic, weekday=6, start=60, end=240, today=date(2026, 10, 20))
    assert row.sessions.get(on=date(2026, 10, 25)).slots.count() == 9


def test_tuesdays_only_leave_197_of_992_windows_of_day_12_to_16_without_a_session(clinic):
    """Surgery days as in `tests/published/test_booking_rows.py`, with the official holidays of England."""
    from caseload.reads.shipped import shipped_region

    service.load_region(shipped_region("GB-ENG"), by=by())
    WeeklySession.objects.create(
        therapist=clinic.therapist, site=clinic.site, weekday=1, start_minute=540, end_minute=740,
        starts_on=date(2024, 1, 1), takes=[FollowUpKind.STITCHES_OUT, FollowUpKind.WOUND_CHECK],
    )  # fmt: skip
    clinic.site.refresh_from_db()
    found = empty_windows(clinic.site, date(2024, 1, 2), date(2027, 11, 30), rules_of(clinic.rules))
    assert [(row.windows, row.without) for row in found if row.days == (12, 14, 16)] == [(992, 197), (992, 197)]


def test_follow_ups_without_a_session_day_are_named(clinic):
    row = clinic.episode().follow_ups.get(key="stitches-out")
    last = TODAY + HORIZON
    assert row in without_day(clinic.site, TODAY, last)
    week(clinic, takes=[FollowUpKind.WOUND_CHECK])
    assert row in without_day(clinic.site, TODAY, last)
    week(clinic, start=800, end=900)
    assert row not in without_day(clinic.site, TODAY, last)
    assert FollowUp.objects.due().exists()
