"""A plan that fills the diary, looked at line by line: what it says, what is accepted, what the diary has overtaken."""

import re
from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from caseload.actions import appointments
from caseload.models import Appointment, FillLine, FillPlan, FollowUp, Job, Look, Session, Told
from caseload.reads.fill_plans import Fate, chosen, plans
from caseload.reads.to_book import Asked, unbooked
from tests.scenario import TODAY, Fernhollow, by
from tests.web.posting import errors
from tests.web.reading import read

ON = date(2026, 4, 2)


@pytest.fixture
def session(clinic: Fernhollow) -> Session:
    return clinic.session(ON)


@pytest.fixture
def plan(clinic: Fernhollow) -> FillPlan:
    return FillPlan.objects.create(
        by=clinic.admin, made_at=datetime(2026, 4, 1, 8, tzinfo=UTC), first_on=ON, last_on=TODAY + timedelta(days=28),
        cost=20, bound=20, could_place=2,
    )  # fmt: skip


def stitches(clinic: Fernhollow, family: str, **facts: object) -> FollowUp:
    own = {"surgery_on": date(2026, 3, 19)} | facts
    return clinic.episode(clinic.patient(family=family), **own).follow_ups.get(key="stitches-out")


def line(plan: FillPlan, row: FollowUp, session: Session | None, start: int = 540, **own: object) -> FillLine:
    """A line for one follow-up, as a plan holds it."""
    place = {"session": session, "on": session.on, "start_minute": start} if session else {}
    said = {
        "parts": {"distance": 16, "tie": 0, "therapist": 4, "gaps": 1},
        "reasons": [["days-before-target", 1], ["other-therapist"]],
    }
    return FillLine.objects.create(
        plan=plan, number=plan.lines.count() + 1, patient=row.patient, names=[f"{row.episode.code}/{row.key}"],
        minutes=row.minutes, **(place | said | {"next_best": 16} | own),
    )  # fmt: skip


@pytest.fixture
def two(clinic: Fernhollow, plan: FillPlan, session: Session) -> list[FillLine]:
    return [line(plan, stitches(clinic, "Ash"), session), line(plan, stitches(clinic, "Birch"), session, 560)]


def address(plan: FillPlan) -> str:
    return f"/fill/{plan.code}/"


def text_of(client: Client, plan: FillPlan, asked: str = "") -> str:
    return read(client.get(address(plan) + asked))


def sent(page, **typed):
    """What a browser sends of the page: its key and every ticked box."""
    text = page.content.decode()
    ticked = re.findall(r'name="chosen" value="(\d+)" checked', text)
    every = re.findall(r'name="line" value="(\d+)"', text)
    return {"key": page.context["form"]["key"].value(), "chosen": ticked, "line": every} | typed


def post(client: Client, plan: FillPlan, **typed):
    return client.post(address(plan), sent(client.get(address(plan)), **typed))


def test_a_plan_says_what_is_proposed_at_what_cost_and_why(admin, plan, two):
    page = text_of(admin, plan)
    assert "2 of 2 follow-ups get a place. Against the present: 2 that stand unbooked get a place, 0 badly" in page
    assert "No plan can place more, nor as many at less cost: proven." in page
    assert page.index("ASH") < page.index("BIRCH") and "Thu 2 Apr 2026, 09:00" in page and "nothing booked" in page
    assert "1 day before the target, another therapist" in page
    assert "21 points: 16 for the days from the target, 4 for another therapist, 1 for gaps left beside it" in page
    assert "the next best free place costs 16 more" in page


def test_what_is_ticked_is_booked_untold_and_the_rest_stays_undecided(admin, plan, two):
    answer = post(admin, plan, chosen=["2"])
    assert answer.status_code == 302
    booked = Appointment.objects.get()
    assert (booked.on, booked.start_minute, booked.told) == (ON, 560, Told.UNTOLD)
    assert text_of(admin, plan, "?fate=accepted").count("BIRCH") and "ASH" in text_of(admin, plan, "?fate=undecided")


def test_all_are_accepted_by_one_button_and_twice_is_once(admin, plan, two):
    typed = sent(admin.get(address(plan)), chosen=[], all="1")
    assert [admin.post(address(plan), typed).status_code for _ in range(2)] == [302, 302]
    assert Appointment.objects.count() == 2


def test_what_is_declined_books_nothing_and_can_not_be_ticked_any_more(admin, plan, two):
    post(admin, plan, decline="1")
    page = text_of(admin, plan)
    assert (
        page.count("declined<small>Ada Marsh") == 2 and 'name="chosen"' not in page and not Appointment.objects.exists()
    )


def test_a_line_that_the_diary_has_overtaken_is_refused_alone_with_new_places(clinic, admin, plan, two, session):
    page = admin.get(address(plan))
    quick = stitches(clinic, "Quick")
    appointments.book([quick], by=by(clinic.admin), session=session, start=540)
    answer = admin.post(address(plan), sent(page))
    text = answer.content.decode()
    assert answer.status_code == 409 and "Overtaken meanwhile" in text
    assert (
        text.index("Overtaken meanwhile")
        < text.index("<b>ASH, ")
        < text.index("New places:")
        < text.index("</section>")
    )
    assert f"slot={session.code}%2F580" in text and text.count("accepted<small>") == 1
    assert Appointment.objects.count() == 2


def test_a_new_place_leads_to_the_booking_page_with_it_chosen(clinic, admin, plan, two, session):
    FillLine.objects.filter(pk=two[0].pk).update(overtaken="This time is taken.")
    page = text_of(admin, plan)
    found = re.search(r'href="(/episodes/[^"]+slot=[^"]+)"', page)
    assert found and "This time is taken." in page
    asked = found[1].replace("&amp;", "&")
    form = admin.get(asked).context["form"]
    assert form["slot"].value() in asked.replace("%2F", "/") and form["follow_ups"].value() == two[0].names


def test_late_places_same_names_and_what_is_booked_meanwhile_are_not_ticked(clinic, admin, plan, session):
    late = line(plan, stitches(clinic, "Late"), session, days_late=2)
    twins = [
        clinic.episode(clinic.patient(family="Twin", given="Tess", born_on=date(1950, 1, each))) for each in (1, 2)
    ]
    line(plan, twins[0].follow_ups.get(key="stitches-out"), session, 560)
    line(plan, stitches(clinic, "Good"), session, 580)
    line(plan, stitches(clinic, "Beyond"), session, 600, why=[["all-full"]])
    clinic.book([late.patient.episodes.get().follow_ups.get(key="stitches-out")], ON)
    page = text_of(admin, plan)
    assert re.findall(r'value="(\d)" checked', page) == ["3"]
    assert "2 days after its last day" in page and "same name: check the birth date" in page


def test_a_place_that_is_later_than_the_late_one_booked_now_can_not_be_taken(clinic, admin, plan):
    row = stitches(clinic, "Later")
    booked = clinic.book([row], date(2026, 4, 9))
    made = line(plan, row, clinic.session(date(2026, 4, 16)), why=[["all-full"]], days_late=12, before=booked)
    assert 'name="chosen"' not in text_of(admin, plan)
    Appointment.objects.filter(pk=booked.pk).update(way="telephone")  # stitches need the hand to be there
    assert f'name="chosen" value="{made.number}"' in text_of(admin, plan)


def test_who_has_no_place_says_why_and_what_would_place_them(clinic, admin, plan):
    row = stitches(clinic, "Long")
    line(plan, row, None, why=[["all-full"]], session_on=date(2026, 4, 7))
    page = text_of(admin, plan)
    assert "Without a place</h2>" in page and "every session that takes it is full" in page
    assert "One more session on Tue 7 Apr 2026 at Fernhollow would place it." in page
    assert f"/diary/?on=2026-04-07&amp;site={clinic.site.code}" in page
    assert f"/to-book/?row={row.episode.code}%2Fstitches-out" in page


def test_a_therapist_looks_and_looking_is_recorded_but_does_not_accept(therapist, plan, two):
    page = text_of(therapist, plan)
    assert "A booking admin or a lead accepts these." in page and 'name="chosen"' not in page
    assert Look.objects.filter(route="fill-plan").count() == 2
    assert therapist.post(address(plan), {"all": "1", "line": "1"}).status_code == 403
    assert therapist.post("/fill/", {"first": "2 apr", "last": "+20"}).status_code == 403
    assert "A booking admin or a lead asks for a plan." in therapist.get("/fill/").content.decode()


def test_plans_are_listed_with_how_their_lines_stand(clinic, admin, plan, two, session):
    row, full = two[0].patient.episodes.get().follow_ups.get(key="stitches-out"), [["all-full"]]
    *_, last = (
        line(plan, row, None, why=full),
        line(plan, row, session, why=full),
        line(plan, row, session, overtaken="No."),
    )
    later = plan.made_at + timedelta(minutes=1)
    FillPlan.objects.create(made_at=later, first_on=ON, last_on=ON, cost=0, bound=0, could_place=0)
    post(admin, plan, chosen=["2"], decline="1")
    empty, made = plans()
    assert (made.placed, made.unplaced, made.undecided, made.declined, made.overtaken) == (3, 2, 1, 1, 1)
    assert (empty.placed, empty.unplaced, made.without, len(chosen(plan, fate=Fate.WITHOUT))) == (0, 0, 2, 2)
    assert [each.pk for each in chosen(plan, fate=Fate.OVERTAKEN)] == [last.pk]


def test_lines_of_one_site_are_shown_alone(clinic, admin, plan, two):
    line(plan, stitches(clinic, "Quayside", site=clinic.quay), None, why=[["no-session"]])
    page = text_of(admin, plan, f"?site={clinic.quay.code}")
    assert "QUAYSIDE" in page and "ASH" not in page
    assert "QUAYSIDE" not in text_of(admin, plan, f"?site={clinic.site.code}")


def test_a_plan_is_asked_for_and_its_page_leads_to_it(clinic, admin, therapist, plan):
    clinic.episode()
    page = admin.get("/fill/")
    assert f"{unbooked(Asked(), TODAY).count()} follow-ups</a>" in page.content.decode()
    answer = admin.post("/fill/", {"key": page.context["form"]["key"].value(), "first": "2 apr", "last": "30 apr"})
    job = Job.objects.get()
    assert answer["Location"] == f"/jobs/{job.code}/" and "A plan is being made" in admin.get("/fill/").content.decode()
    theirs = therapist.get("/fill/").content.decode()
    assert "A plan is being made, asked for by Ada Marsh" in theirs and job.code not in theirs
    FillPlan.objects.update(job=job)
    assert address(plan) in admin.get(f"/jobs/{job.code}/").content.decode()


def test_days_that_cannot_be_filled_are_said_at_their_field(clinic, admin):
    typed = [("1 mar", "30 apr", "first"), ("30 apr", "2 apr", "last"), ("", "+5", "first"), ("+1", "soon", "last")]
    for first, last, field in typed:
        answer = admin.post("/fill/", {"first": first, "last": last})
        assert answer.status_code == 422 and list(errors(answer)) == [field]
    assert not Job.objects.exists()


def test_what_no_page_sent_does_no_harm(admin, plan, two):
    for value in ("", "a", "0", "-1", "²", "9" * 30, "1/2", "\0"):
        assert admin.post(address(plan), {"chosen": value}).status_code == 302
    assert not Appointment.objects.exists()


@pytest.mark.parametrize("button", ["accept", "decline"])
def test_a_button_pressed_with_nothing_ticked_says_so(admin, plan, two, button):
    answer = admin.post(address(plan), sent(admin.get(address(plan)), chosen=[], **{button: "1"}), follow=True)
    assert "Nothing was ticked, so nothing has changed." in answer.content.decode()
    assert not FillLine.objects.exclude(decided_at=None).exists()


def test_a_page_costs_the_same_queries_however_many_lines(clinic, admin, plan, two):
    asked = []
    for size in (2, 1):
        FillLine.objects.filter(number__gt=size).delete()
        with CaptureQueriesContext(connection) as queries:
            text_of(admin, plan)
        asked.append(len(queries))
    assert asked[0] == asked[1]
