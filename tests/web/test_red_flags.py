"""A red flag: on every page about the patient until it is closed; the therapist's on its day, then the lead's."""

from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from caseload.actions import episodes, findings, visits
from caseload.measures.bodies import Pain
from caseload.measures.terms import MeasureKind
from caseload.models import Episode, Finding
from caseload.reads import awaiting
from caseload.reads.patient import open_flags
from caseload.reads.prepared_models import PreparedModels
from caseload.timetable.terms import AfterVisit, Ending
from tests.scenario import TODAY, Fernhollow, by
from tests.web.posting import errors, send
from tests.web.reading import read

NOTE = "spreading redness since last night"


@pytest.fixture
def episode(clinic: Fernhollow) -> Episode:
    return clinic.episode()


@pytest.fixture
def flag(clinic: Fernhollow, episode: Episode) -> Finding:
    return findings.record(episode, by=by(clinic.therapist), kind="red-flag", on=TODAY, note=NOTE)


def listed(client: Client, owner: str) -> str:
    """The rows of the list of those who need somebody, of one owner."""
    return str(client.get(f"/overdue/?owner={owner}").context["table"].body)


def pages_about(clinic: Fernhollow, episode: Episode) -> list[str]:
    """Every page that names the patient on top."""
    held = clinic.book([episode.follow_ups.get(key="stitches-out")], date(2026, 4, 2))
    wound = findings.record(episode, by=by(clinic.therapist), kind="wound", on=TODAY, wound="not-closed")
    look = visits.Look(episode, AfterVisit.REVIEW, in_days=14, measured={MeasureKind.PAIN: Pain(3)})
    visit = visits.record(episode.patient, by=by(clinic.therapist), on=TODAY, looks=[look])
    own, person = [episode.code], [episode.patient.code]
    return [
        *(reverse(name, args=own) for name in (
            "episode", "episode-correct", "episode-close", "appointment-new", "visit-new", "instruction-new",
            "review-new", "contact-new", "plan-sheet",
        )),
        *(reverse(name, args=person) for name in (
            "patient", "patient-correct", "referral-new", "episode-new", "patient-contact",
        )),
        *(reverse(name, args=[held.code]) for name in ("appointment-move", "appointment-end", "appointment-tell")),
        *(reverse(name, args=[*own, wound.pk]) for name in ("finding-correct", "finding-withdraw")),
        *(reverse(name, args=[visit.code]) for name in ("visit", "visit-withdraw")),
        reverse("measurement-correct", args=[visit.code, visit.measurements.get().pk]),
        reverse("review-withdraw", args=[*own, visit.examined.get().review_id]),
        reverse("follow-up-done", args=[*own, "outcome-review"]),
    ]  # fmt: skip


def test_it_stands_on_every_page_about_the_patient_until_it_is_closed(therapist: Client, clinic, episode, flag):
    pages = pages_about(clinic, episode)
    said = ("Red flag open: ", NOTE, "recorded by Thea Marsh", "Say whom it went to and how it ended")
    for page in pages:
        text = therapist.get(page).content.decode()
        assert all(words in text for words in said), page
    send(therapist, f"/episodes/{episode.code}/findings/{flag.pk}/close/", escalated_to="Dr Wren", outcome="seen, well")
    assert all("Red flag open: " not in therapist.get(page).content.decode() for page in pages)


def test_a_flag_of_one_finger_stands_on_the_pages_of_the_other(therapist: Client, clinic, episode, flag):
    index = clinic.episode(episode.patient, digit="index")
    text = therapist.get(f"/episodes/{index.code}/").content.decode()
    assert "Red flag open: " in text and "right ring finger</a></h2>" in text


def test_it_stands_beside_the_row_that_is_being_booked(admin: Client, clinic, episode, flag):
    clinic.session(date(2026, 4, 2))
    text = admin.get("/to-book/").content.decode()
    assert "<b>Red flag open</b>, right ring finger: " + NOTE in text
    assert "Make sure that a therapist or the lead knows before you book." in text


def test_both_fingers_have_each_their_own(therapist: Client, clinic, episode, flag):
    index = clinic.episode(episode.patient, digit="index")
    findings.record(index, by=by(clinic.therapist), kind="red-flag", on=TODAY, note="cold and blue")
    text = therapist.get(f"/patients/{episode.patient.code}/").content.decode()
    assert text.count("Red flag open: ") == 2 and NOTE in text and "cold and blue" in text


def test_who_may_not_close_it_is_told_whom_to_tell(admin: Client, episode, flag):
    text = admin.get(f"/patients/{episode.patient.code}/").content.decode()
    assert "Make sure that a therapist or the lead knows of it" in text
    assert "Say whom it went to" not in text
    assert admin.get(f"/episodes/{episode.code}/findings/{flag.pk}/escalate/").status_code == 403


def test_to_whom_it_went_can_be_noted_before_the_outcome_is_known(therapist: Client, episode, flag):
    address = f"/episodes/{episode.code}/findings/{flag.pk}/escalate/"
    assert errors(send(therapist, address, to=" ")) == {"to": ["required"]}
    send(therapist, address, to="hand surgeon on call")
    text = read(therapist.get(f"/episodes/{episode.code}/"))
    assert "Escalated to hand surgeon on call</b> by Thea Marsh, Wed 1 Apr 2026, 10:00" in text
    assert "the outcome is still open" in text and "Say how it ended" in text
    assert "red flag escalated" in text and "Escalated to: hand surgeon on call" in text, "the history says it too"


def test_noting_it_takes_the_flag_off_no_list(therapist: Client, lead: Client, episode, flag):
    send(therapist, f"/episodes/{episode.code}/findings/{flag.pk}/escalate/", to="hand surgeon on call")
    assert episode.standings.on(TODAY).get().headline == "red-flag"


def test_whom_it_went_to_last_is_filled_in_when_it_is_closed(therapist: Client, episode, flag):
    page = f"/episodes/{episode.code}/findings/{flag.pk}/"
    for to in ("registrar, no answer", "Dr Wren"):
        send(therapist, f"{page}escalate/", to=to)
    send(therapist, f"{page}close/", outcome="antibiotic, seen tomorrow")
    text = read(therapist.get(f"/episodes/{episode.code}/"))
    assert "went to Dr Wren: antibiotic, seen tomorrow" in text
    assert "escalated to registrar, no answer by Thea Marsh" in text, "an earlier call stays readable"


def test_it_closes_only_with_whom_and_how(therapist: Client, episode, flag):
    address = f"/episodes/{episode.code}/findings/{flag.pk}/close/"
    assert set(errors(send(therapist, address))) == {"escalated_to", "outcome"}
    send(therapist, address, escalated_to="Dr Wren", outcome="seen, well")
    for again in ("close", "escalate"):
        typed = {"escalated_to": "Dr Wren", "outcome": "well", "to": "Dr Wren"}
        answer = send(therapist, f"/episodes/{episode.code}/findings/{flag.pk}/{again}/", **typed)
        assert errors(answer) == {"__all__": ["no-open-red-flag"]}


def test_a_flag_that_was_never_so_is_withdrawn_with_a_reason(therapist: Client, episode, flag):
    send(therapist, f"/episodes/{episode.code}/findings/{flag.pk}/withdraw/", why="meant for somebody else")
    assert "Red flag open: " not in therapist.get(f"/episodes/{episode.code}/").content.decode()


def test_on_its_day_it_is_the_therapists(therapist: Client, clinic, episode, flag):
    text = read(therapist.get(f"/episodes/{episode.code}/"))
    assert "Open since today: the therapist&#x27;s today, from tomorrow the lead therapist&#x27;s." in text
    assert "Red flag open" in listed(therapist, "therapist")
    assert "Red flag open" not in listed(therapist, "lead")


def test_from_the_next_day_it_is_first_in_the_leads_list(clinic: Fernhollow, sign_in, episode, flag):
    tomorrow = TODAY + timedelta(days=1)
    for days in (30, 40):
        clinic.episode(surgery_on=TODAY - timedelta(days=days), today=TODAY - timedelta(days=days))
    with time_machine.travel(datetime(tomorrow.year, tomorrow.month, tomorrow.day, 9, tzinfo=UTC), tick=False):
        lead = sign_in(clinic.lead)
        rows = listed(lead, "lead")
        assert 0 <= rows.index(episode.patient.family.upper()) < rows.index("Safety alert")
        banner = lead.get(f"/episodes/{episode.code}/").content.decode()
        assert "Open since yesterday: the lead therapist&#x27;s now." in banner
        assert "Say whom it went to and how it ended" in banner
        assert "Red flag open" not in listed(lead, "therapist")


def test_a_flag_left_for_days_says_since_when(clinic: Fernhollow, therapist: Client, episode):
    findings.record(episode, by=by(clinic.therapist), kind="red-flag", on=TODAY - timedelta(days=3), note="numb")
    text = read(therapist.get(f"/episodes/{episode.code}/"))
    assert "Open since Sun 29 Mar 2026, 3 days: the lead therapist&#x27;s now." in text


def test_it_holds_a_discharge_back(therapist: Client, clinic, episode, flag):
    address = f"/episodes/{episode.code}/close/"
    assert errors(send(therapist, address, how="discharged")) == {"how": ["red-flag-open"]}


def test_an_episode_that_closed_with_it_open_still_says_so(clinic: Fernhollow, therapist: Client, episode, flag):
    episodes.close(
        episode, by=by(clinic.therapist), version=None, how=Ending.TRANSFERRED, on=TODAY, received_by="Another clinic"
    )
    assert "Red flag open: " in therapist.get(f"/episodes/{episode.code}/").content.decode()


def test_the_banner_costs_two_queries_however_many_flags(clinic, episode, flag, django_assert_num_queries):
    for _ in range(3):
        findings.record(episode, by=by(clinic.therapist), kind="red-flag", on=TODAY, note="numb")
        findings.escalate(flag, by=by(clinic.therapist), to="Dr Wren")
    with django_assert_num_queries(2):
        assert len(open_flags(episode.patient, TODAY)) == 4


def test_no_pile_of_reports_hides_a_red_flag(clinic, monkeypatch):
    monkeypatch.setattr(awaiting, "MOST", 1)
    monkeypatch.setattr(awaiting, "_WAITING", PreparedModels(awaiting._waiting))  # whose text holds the limit
    episode = clinic.episode()
    own = {"by": by(clinic.therapist)}
    earlier = {"on": TODAY - timedelta(days=1), "source": "reported", "reported_by": "Nurse"}
    findings.record(episode, kind="wound", wound="closed", **earlier, **own)
    findings.record(episode, kind="red-flag", note="spreading redness", on=TODAY, **own)
    (found,) = awaiting.awaiting({clinic.therapist.pk}, TODAY)
    assert found.red_flag
