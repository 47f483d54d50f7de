"""A saved visit: what was recorded, what it changed, what is left to do, who is next; withdrawn."""

from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from caseload.actions import appointments, episodes, findings, visits
from caseload.actions.visits import Look as Looked
from caseload.measures.bodies import Pain
from caseload.measures.terms import MeasureKind
from caseload.models import Appointment, Look, Visit
from caseload.timetable.terms import ActivityKind, AfterVisit, Ending, FindingKind, Outcome, WoundState
from tests.scenario import TODAY, by
from tests.web.posting import errors, held, send
from tests.web.reading import read
from tests.web.visiting import preview, record

BEFORE = date(2026, 3, 20)
OUT = {"kind": FindingKind.STITCHES, "stitches_out": 4, "stitches_left": 0}
TYPED = {"d1_stitches_out": "4", "d1_stitches_left": "0", "d1_wound": "closed", "d1_after": "continue"}
CLOSED = {"kind": FindingKind.WOUND, "wound": WoundState.CLOSED}


@pytest.fixture
def seated(clinic) -> Appointment:
    """Stitches out on day 14, in a session of the therapist."""
    episode = clinic.episode(clinic.patient(family="Seated"), surgery_on=TODAY - timedelta(days=14), today=BEFORE)
    return clinic.book([episode.follow_ups.get(key="stitches-out")], TODAY, today=BEFORE)


def recorded(clinic, appointment: Appointment, **said) -> Visit:
    episode = appointment.purposes.get().follow_up.episode
    own = {"findings": [OUT, CLOSED], "measured": {MeasureKind.PAIN: Pain(3)}, "after": AfterVisit.CONTINUE}
    look = Looked(episode, **(own | said))
    return visits.record(
        appointment.patient, by=by(clinic.therapist), on=TODAY, looks=[look], appointment=appointment,
        taught="How to bend it", note="In good spirits",
    )  # fmt: skip


def page_of(client, visit: Visit) -> str:
    return " ".join(read(client.get(f"/visits/{visit.code}/")).split())


def test_what_was_recorded_stands_in_words_and_is_signed(clinic, therapist, seated):
    page = page_of(therapist, recorded(clinic, seated, started=[ActivityKind.LIGHT_TASKS]))
    for said in ("4 stitches out, none left", "Wound closed", "pain 3 of 10", "light tasks", "continue as timetabled",
                 "How to bend it", "In good spirits", "Signed by Thea Marsh", "day 14"):  # fmt: skip
        assert said in page


def test_what_it_changed_stays_readable(clinic, therapist, seated):
    page = page_of(therapist, recorded(clinic, seated))
    changed = page[page.index("What it changed") :]
    assert "Scar massage: unlocked, from Thu 2 Apr 2026" in changed and "Stitches out: done, Wed 1 Apr 2026" in changed


def test_looking_at_it_is_recorded(clinic, therapist, seated):
    page_of(therapist, recorded(clinic, seated))
    assert Look.objects.get(route="visit").patient == seated.patient


@pytest.fixture
def visit(clinic, seated) -> Visit:
    return recorded(clinic, seated)


def test_what_needs_a_place_is_booked_with_one_press(clinic, therapist, visit):
    clinic.session(date(2026, 4, 15))
    page = therapist.get(f"/visits/{visit.code}/")
    offered, _outcome_review = page.context["offered"]
    assert "First therapy review" in page.content.decode() and 1 <= len(offered["places"]) <= 3
    said = {"row": "/".join([offered["about"].episode.code, offered["about"].key]), "slot": offered["places"][0][0]}
    press = {**said, "for": said["row"], "key": str(uuid4())}
    for _ in range(2):
        answer = therapist.post(f"/visits/{visit.code}/book/", press, follow=True)
    booked = Appointment.objects.get(on=date(2026, 4, 15))
    assert booked.told == "told" and booked.purposes.get().follow_up.key == "therapy-review"
    assert [each["about"].key for each in answer.context["offered"]] == ["outcome-review"]


def test_what_has_no_place_together_in_time_is_offered_alone(clinic, therapist):
    """A review and a re-check need 40 minutes: 20 that are free in time are not passed over for 40 too late."""
    episode, short = clinic.episode(suture="absorbable"), clinic.session(date(2026, 4, 2), end=560)
    clinic.session(date(2026, 4, 15))
    doubtful = {"kind": FindingKind.WOUND, "wound": WoundState.CONCERN}
    look = Looked(episode, AfterVisit.REVIEW, in_days=1, minutes=20, findings=[doubtful])
    visit = visits.record(episode.patient, by=by(clinic.therapist), on=TODAY, looks=[look])
    first, second, *_ = therapist.get(f"/visits/{visit.code}/").context["offered"]
    assert [row.kind for row in first["rows"] + second["rows"]] == ["set-review", "wound-recheck"]
    assert first["places"][0][0] == second["places"][0][0] == f"{short.code}/540"


def test_who_was_not_there_is_still_to_be_told_of_the_place(clinic, therapist):
    episode, session = clinic.episode(suture="absorbable"), clinic.session(date(2026, 4, 2))
    look = Looked(episode, AfterVisit.CONTINUE, measured={MeasureKind.PAIN: Pain(3)})
    visit = visits.record(episode.patient, by=by(clinic.therapist), on=TODAY, looks=[look], source="photo")
    said = {"row": f"{episode.code}/wound-check", "slot": f"{session.code}/540"}
    answer = therapist.post(f"/visits/{visit.code}/book/", said, follow=True)
    assert "The patient is still to be told." in answer.content.decode()
    assert Appointment.objects.get().told == "untold"


@pytest.mark.parametrize("row", ["", "x", "\0", "\0/stitches-out", "x/" + "y" * 500])
def test_a_follow_up_that_is_none_is_refused_in_words(clinic, therapist, visit, row):
    session = clinic.session(date(2026, 4, 2))
    answer = therapist.post(f"/visits/{visit.code}/book/", {"row": row, "slot": f"{session.code}/540"}, follow=True)
    assert "not offered any more" in answer.content.decode()


def test_the_page_takes_as_many_queries_however_often_it_is_corrected(clinic, therapist, visit):
    with CaptureQueriesContext(connection) as few:
        page_of(therapist, visit)
    wound = visit.findings.get(kind="wound")
    for _ in range(3):
        wound = findings.correct(wound, by=by(clinic.therapist), on=TODAY, wound="closed", note="again")
    with CaptureQueriesContext(connection) as many:
        page_of(therapist, visit)
    assert len(many) <= len(few)


@pytest.mark.parametrize("slot", ["", "x", "nowhere/540", "²/1"])
def test_a_place_that_is_none_is_refused_in_words(clinic, therapist, visit, slot):
    episode = visit.examined.get().episode
    said = {"row": f"{episode.code}/therapy-review", "slot": slot}
    answer = therapist.post(f"/visits/{visit.code}/book/", said, follow=True)
    assert "not offered any more" in answer.content.decode()


def test_nothing_is_booked_for_another_patient_from_here(clinic, therapist, visit):
    other, session = clinic.episode(), clinic.session(date(2026, 4, 2))
    said = {"row": f"{other.code}/stitches-out", "slot": f"{session.code}/540"}
    therapist.post(f"/visits/{visit.code}/book/", said)
    assert not other.follow_ups.filter(purposes__live=True).exists()


def test_where_others_bear_the_name_the_birth_date_is_asked_first(clinic, therapist, visit):
    clinic.session(date(2026, 4, 15))
    clinic.patient(family=visit.patient.family, given=visit.patient.given)
    page = page_of(therapist, visit)
    assert "confirm the birth date and book" in page and 'name="slot"' not in page


def test_a_booking_that_nothing_is_left_for_is_to_be_cancelled(clinic, therapist):
    episode = clinic.episode(surgery_on=TODAY - timedelta(days=14), today=BEFORE)
    clinic.book([episode.follow_ups.get(key="stitches-out")], TODAY + timedelta(days=1), today=BEFORE)
    look = Looked(episode, AfterVisit.CONTINUE, findings=[OUT, CLOSED])
    visit = visits.record(episode.patient, by=by(clinic.therapist), on=TODAY, looks=[look])
    assert "Nothing is left for this visit: Thu 2 Apr 2026" in page_of(therapist, visit)


def test_the_next_patient_of_the_day_stands_on_it(clinic, therapist, seated):
    later = clinic.episode(clinic.patient(given="Nora", family="Next"), surgery_on=date(2026, 3, 18), today=BEFORE)
    appointment = clinic.book([later.follow_ups.get(key="stitches-out")], TODAY, today=BEFORE)
    page = page_of(therapist, recorded(clinic, seated))
    assert "Next: NEXT, Nora" in page and f"/appointments/{appointment.code}/visit/" in page
    recorded(clinic, appointment)
    assert "Next: " not in page_of(therapist, Visit.objects.first())


def test_withdrawn_it_says_so_on_top_and_asks_for_nothing(clinic, therapist, visit):
    answer = send(therapist, f"/visits/{visit.code}/withdraw/", why="")
    assert errors(answer) == {"why": ["required"]}
    send(therapist, f"/visits/{visit.code}/withdraw/", why="The wrong hand")
    page = page_of(therapist, visit)
    assert page.index("This visit is withdrawn") < page.index("The wrong hand (Thea Marsh, ") < page.index("<h1>")
    assert "<s>4 stitches out, none left</s>" in page and "Left to do" not in page
    assert send(therapist, f"/visits/{visit.code}/withdraw/", why="Again").status_code == 422


def test_an_admin_reads_it_and_withdraws_nothing(clinic, admin, visit):
    assert "Withdraw this visit" not in page_of(admin, visit)
    assert admin.get(f"/visits/{visit.code}/withdraw/").status_code == 403


def test_two_sendings_of_one_form_make_one_visit(therapist, seated):
    address = f"/appointments/{seated.code}/visit/"
    shown = preview(therapist, address, **TYPED)
    typed = held(shown.context["form"]) | {"sure": shown.context["sure"]}
    first, second = therapist.post(address, typed), therapist.post(address, typed)
    assert first.url == second.url == f"/visits/{Visit.objects.get().code}/"
    edited = therapist.post(address, typed | {"note": "typed after Back"})
    text = edited.content.decode()
    assert edited.status_code == 409 and Visit.objects.get().note == ""
    assert "You saved this form before" in text and "Note: typed after Back" in text and first.url in text
    assert "4 stitches out, none left" in text, "what is recorded stands beside it"
    assert "saved already" in therapist.post(address, typed | {"live": "1"}).content.decode()


class TestMeanwhile:
    """What somebody else recorded while this one was typing."""

    def test_both_texts_stand_side_by_side_and_the_next_press_goes_on(self, clinic, therapist, lead):
        address = f"/episodes/{clinic.episode().code}/visit/"
        typed = held(preview(therapist, address, **TYPED, note="dry").context["form"])
        assert record(lead, address, d1_wound="concern", d1_after="continue").status_code == 302
        page = therapist.post(address, typed)
        (digit,) = page.context["meanwhile"].both
        assert page.status_code == 409
        assert digit.typed == [
            ("Taken out", "4"),
            ("Left in", "0"),
            ("Wound", "closed"),
            ("Next step", "continue as timetabled"),
        ]
        assert [(each.what, each.by) for each in digit.since][0] == ("Wound of concern (Wed 1 Apr 2026)", "Lena Marsh")
        again = therapist.post(address, held(page.context["form"]))
        assert again.status_code == 200 and again.context["sure"]
        saved = therapist.post(address, held(again.context["form"]) | {"sure": again.context["sure"]})
        assert saved.url.startswith("/visits/")

    def test_all_that_the_other_one_wrote_of_it_can_be_read(self, clinic, therapist, lead):
        address = f"/episodes/{clinic.episode().code}/visit/"
        typed = held(preview(therapist, address, **TYPED).context["form"])
        other = {"note": "swollen", "taught": "hook fist", "d1_pain": "3", "d1_after": "continue"}
        assert record(lead, address, **other).status_code == 302
        (digit,) = therapist.post(address, typed).context["meanwhile"].both
        (visit,) = [each.what for each in digit.since]
        assert "pain 3 of 10" in visit and "taught: hook fist" in visit and "note: swollen" in visit

    def test_a_correction_of_the_facts_is_told_from_the_trail(self, clinic, therapist):
        episode = clinic.episode()
        address = f"/episodes/{episode.code}/visit/"
        typed = held(preview(therapist, address, **TYPED).context["form"])
        episodes.correct(episode, by=by(clinic.lead), version=None, stitches_in=5)
        (digit,) = therapist.post(address, typed).context["meanwhile"].both
        assert "Stitches put in: 4 → 5" in digit.since[0].what

    def test_a_visit_that_a_colleague_recorded_first_stands_beside_what_was_typed(self, therapist, lead, seated):
        address = f"/appointments/{seated.code}/visit/"
        typed = held(preview(therapist, address, **TYPED, note="dry").context["form"])
        assert record(lead, address, **TYPED).status_code == 302
        for page in (therapist.post(address, typed), therapist.get(address)):
            said = read(page)
            assert page.status_code == 409 and Visit.objects.get().code in said and "dry" in said
            assert "4 stitches out, none left (Wed 1 Apr 2026)" in said
        assert "did not save it" in page_of(therapist, Visit.objects.get())

    def test_what_was_typed_for_an_appointment_that_ended_otherwise_goes_on_without(self, clinic, therapist, seated):
        address = f"/appointments/{seated.code}/visit/"
        typed = held(preview(therapist, address, **TYPED).context["form"])
        appointments.end(seated, by=by(clinic.admin), outcome=Outcome.DID_NOT_ATTEND)
        page = therapist.post(address, typed)
        assert page.status_code == 409 and "did not attend" in page.content.decode()
        gone_on = therapist.post(page.context["instead"], dict(page.context["typed"]))
        assert gone_on.status_code == 200 and gone_on.context["form"]["d1_wound"].value() == "closed"

    def test_a_digit_that_was_closed_meanwhile_loses_no_text(self, clinic, therapist):
        episode = clinic.episode()
        address = f"/episodes/{episode.code}/visit/"
        typed = held(preview(therapist, address, **TYPED, note="dry").context["form"])
        episodes.close(episode, by=by(clinic.lead), version=None, how=Ending.TRANSFERRED, on=TODAY, received_by="Quay")
        page = therapist.post(address, typed)
        assert page.status_code == 409 and "dry" in page.content.decode()
        live = therapist.post(address, typed | {"live": "1"})
        assert live.status_code == 200 and "<html" not in live.content.decode()
