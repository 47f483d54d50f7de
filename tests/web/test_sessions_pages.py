"""People and sessions: the week, what differs from it, who is away; what saving would bring about is said first."""

from datetime import date

import pytest
from django.urls import reverse

from caseload.actions import service, weeks
from caseload.models import Absence, Closure, Job, Region, Session, Staff, WeeklySession
from tests.scenario import TODAY, by
from tests.web.posting import errors, held, send
from tests.web.reading import said

THURSDAY = date(2026, 4, 2)


@pytest.fixture
def week(clinic):
    return weeks.save_week(
        by=by(clinic.lead), therapist=clinic.therapist, site=clinic.site, weekday=3, start=540, end=740, from_on=TODAY
    )


def page(client) -> str:
    return said(client.get(reverse("sessions")))


def all_the_same(client, address, first):
    """Send once more what was cautioned against."""
    data = held(first.context["form"]) | {"sure": first.context["sure"]}
    return client.post(address, data)


def typed(clinic, **own):
    return {
        "therapist": clinic.therapist.code, "site": clinic.site.code, "weekday": "3", "start": "9", "end": "12.20",
    } | own  # fmt: skip


def test_the_page_shows_people_and_the_week_by_site(clinic, admin, week):
    shown = page(admin)
    assert "Thea Marsh" in shown and "09:00 to 12:20" in shown and "everything" in shown
    assert "public holidays known until Fri 31 Dec 2027" in shown and "No weekly session here yet" in shown


def test_the_page_is_for_admin_and_lead(clinic, therapist, lead):
    assert therapist.get(reverse("sessions")).status_code == 403
    assert lead.get(reverse("sessions")).status_code == 200
    assert "Sessions</a>" not in said(therapist.get(reverse("caseload")))


def test_the_page_costs_the_same_however_many_sessions(clinic, admin, week, django_assert_max_num_queries):
    for weekday in range(3):
        weeks.save_week(
            by=by(clinic.lead), therapist=clinic.therapist, site=clinic.site, weekday=weekday, start=540, end=740,
            from_on=TODAY,
        )  # fmt: skip
    Session.objects.update(changed=True)
    with django_assert_max_num_queries(18):
        page(admin)


def test_a_week_is_saved_after_its_empty_windows_were_shown(clinic, lead):
    address = reverse("week-new")
    first = send(lead, address, **typed(clinic))
    shown = said(first)
    assert (
        "windows have no session day; for example surgery on" in shown
        and "Add the weekly session all the same" in shown
    )
    assert not WeeklySession.objects.exists()
    answer = all_the_same(lead, address, first)
    row = WeeklySession.objects.get()
    assert answer.url == reverse("week", args=[row.code]) and row.sessions.count() == 26
    assert "Thursdays, 09:00 to 12:20" in said(lead.get(answer.url))


def test_whoever_types_something_else_sees_the_consequences_anew(clinic, lead):
    address = reverse("week-new")
    first = send(lead, address, **typed(clinic))
    again = lead.post(address, held(first.context["form"]) | {"sure": first.context["sure"], "end": "10"})
    assert "Before you save" in said(again) and not WeeklySession.objects.exists()


def test_follow_ups_that_would_have_no_day_left_are_counted_with_a_link(clinic, lead):
    clinic.episode()
    assert "open follow-ups would have no session day left inside the window" in said(
        send(lead, reverse("week-new"), **typed(clinic, takes=["wound-check"]))
    )


def test_sessions_that_keep_their_hours_are_named_with_a_link(clinic, lead, week):
    session = clinic.book([clinic.episode().follow_ups.get(key="stitches-out")], THURSDAY).session
    address = reverse("week-change", args=[week.code])
    first = send(lead, address, start="10:00")
    assert f"{reverse('session-change', args=[session.code])}" in said(first)
    answer = all_the_same(lead, address, first)
    shown = said(lead.get(answer.url))
    assert "Thu 2 Apr 2026" in shown and "10:00 to 12:20" in shown


def test_a_clash_is_an_error_of_the_form(clinic, lead, week):
    answer = send(lead, reverse("week-new"), **typed(clinic, site=clinic.quay.code))
    assert answer.status_code == 422 and errors(answer) == {"start": ["two-places"]}


@pytest.mark.parametrize(
    ("field", "value", "code"), [("start", "noon", "time-unreadable"), ("end", "9", "session-hours")]
)
def test_hours_that_cannot_be(clinic, lead, field, value, code):
    assert errors(send(lead, reverse("week-new"), **typed(clinic, **{field: value})))[field] == [code]


def test_a_weekly_session_is_ended(clinic, lead, week):
    address = reverse("week-end", args=[week.code])
    all_the_same(lead, address, send(lead, address, on="30/4"))
    week.refresh_from_db()
    assert week.ends_on == date(2026, 4, 30)


def test_an_admin_changes_no_week(clinic, admin, week):
    assert admin.get(reverse("week-new")).status_code == 403
    assert "Change it" not in said(admin.get(reverse("week", args=[week.code])))


def test_a_session_of_one_day_is_added_and_changed(clinic, admin):
    send(admin, reverse("session-new"), **typed(clinic, on="2/4"))
    session = Session.objects.get()
    assert "this day only" in page(admin)
    address = reverse("session-change", args=[session.code])
    assert "It is held on this day only." in said(admin.get(address))
    send(admin, address, end="13:00")
    session.refresh_from_db()
    assert (session.end_minute, session.slots.count()) == (780, 12)


def test_a_closed_day_is_refused_at_its_field(clinic, admin):
    assert errors(send(admin, reverse("session-new"), **typed(clinic, on="3/4"))) == {"on": ["day-closed"]}


def test_an_absence_says_first_whom_it_hits(clinic, admin, week):
    booked = clinic.book([clinic.episode().follow_ups.get(key="stitches-out")], THURSDAY)
    address = reverse("absence-new")
    away = {"therapist": clinic.therapist.code, "starts_on": "2/4", "ends_on": "9/4", "reason": "leave"}
    first = send(admin, address, **away)
    shown = said(first)
    assert f"{booked.patient.family.upper()}, {booked.patient.given}</a> loses Thu 2 Apr 2026, 09:00" in shown
    assert "Thu 9 Apr 2026, 09:00 to 12:20, Fernhollow, Thea Marsh: called off." in shown
    all_the_same(admin, address, first)
    shown = page(admin)
    assert "nobody covers" in shown and "called off: Thea Marsh away: leave" in shown


def test_a_session_that_passes_to_the_cover_says_in_whose_place(clinic, admin, week):
    carla = Staff.objects.create(username="carla", name="Carla Reed", is_therapist=True)
    away = {"therapist": clinic.therapist.code, "starts_on": "2/4", "ends_on": "2/4", "reason": "leave"}
    first = send(admin, reverse("absence-new"), cover=carla.code, **away)
    assert "passes to Carla Reed" in said(first)
    all_the_same(admin, reverse("absence-new"), first)
    assert "in place of Thea Marsh" in page(admin)


def test_an_absence_ends_sooner_and_its_session_is_held_again(clinic, admin, week):
    address = reverse("absence-new")
    away = {"therapist": clinic.therapist.code, "starts_on": "2/4", "ends_on": "9/4", "reason": "leave"}
    all_the_same(admin, address, send(admin, address, **away))
    end = reverse("absence-end", args=[Absence.objects.get().pk])
    shown = admin.get(end)
    assert "Thu 2 Apr 2026 to Thu 9 Apr 2026: leave" in said(shown)
    assert shown.context["form"]["on"].value() == "Thu 9 Apr 2026"
    send(admin, end, on="3/4")
    session = Session.objects.get(on=date(2026, 4, 9))
    admin.post(reverse("session-hold-again", args=[session.code]))
    session.refresh_from_db()
    assert session.live and Absence.objects.get().ends_on == date(2026, 4, 3)


def test_a_closure_lists_who_is_booked_and_whose_proposed_day_moves(clinic, admin, week):
    booked = clinic.book([clinic.episode().follow_ups.get(key="stitches-out")], THURSDAY)
    other = clinic.episode()
    proposed = other.follow_ups.get(key="stitches-out").proposed_on
    address = reverse("closure-new")
    first = send(admin, address, starts_on=f"{proposed:%d/%m/%Y}", ends_on="2/4/2026", reason="flood")
    shown = said(first)
    assert booked.patient.family.upper() in shown and reverse("episode", args=[other.code]) in shown
    answer = all_the_same(admin, address, first)
    closure = Closure.objects.get()
    assert answer.url.endswith("#closures")
    assert reverse("job", args=[Job.objects.get(kind="rederive").code]) in said(admin.get(reverse("sessions")))
    assert booked.patient.family.upper() in said(admin.get(reverse("closure", args=[closure.pk])))
    admin.post(reverse("closure-reopen", args=[closure.pk]))
    assert not Closure.objects.exists()


def test_sessions_under_which_a_holiday_came_are_listed(clinic, admin, week):
    clinic.site.region.holidays.create(on=THURSDAY, name="A day of rest")
    assert "Sessions on closed days" in page(admin)


def test_a_holiday_list_that_ends_within_a_year_is_said_wherever_it_matters(clinic, admin, therapist, lead):
    names = ("sessions", "rules", "overdue")
    ends = "The list of public holidays of England &amp; Wales ends on Thu 1 Apr 2027"
    assert not any(ends in said(admin.get(reverse(name))) for name in names)
    Region.objects.update(covered_until=date(2027, 4, 1))
    assert all(ends in said(client.get(reverse(name))) for name in names for client in (admin, lead))
    assert ends not in said(therapist.get(reverse("overdue")))


def test_a_holiday_list_that_has_ended_is_said(clinic, admin):
    Region.objects.update(covered_until=date(2026, 3, 1))
    assert "ended on Sun 1 Mar 2026" in page(admin)


def test_a_change_on_top_of_somebody_elses_shows_both(clinic, lead, week):
    address = reverse("week-change", args=[week.code])
    opened = lead.get(address)
    WeeklySession.objects.update(version=5, end_minute=800)
    answer = send(lead, address, page=opened, end="12:00")
    assert answer.status_code == 409 and "13:20" in said(answer)


def test_a_loaded_holiday_list_leaves_the_sessions_to_a_person(clinic, week):
    from caseload.reads.shipped import shipped_region

    service.load_region(shipped_region("GB-ENG"), by=by())
    assert Session.objects.filter(live=True).count() == Session.objects.count()
