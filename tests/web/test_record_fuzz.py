"""Bad input never gives a fault: nonsense in every form, query and address of the record."""

from datetime import date

import pytest
from django.test import Client
from django.urls import reverse

from caseload.actions import findings, instructions, referrals, reviews, visits
from caseload.measures.bodies import Pain
from caseload.measures.terms import MeasureKind
from caseload.timetable.terms import AfterVisit
from caseload.web.routes_booking import appointments
from caseload.web.routes_record import record
from tests.scenario import TODAY, Fernhollow, by
from tests.web.fuzz import ask_nonsense, post_nonsense

PRESSED = {"finding-countersign"}
SHOWN = {"patient", "episode", "dates"}
VISITS = {"visit-new", "appointment-visit"}
"""Their form is long: `test_visit_fuzz.py` spoils it."""
LED_ON = {"patient-open"}
"""A lead needs no reason: see `test_reason.py`, and `tests/fuzz` for nonsense as a therapist."""
FORMS = sorted({route.name for route in record} - PRESSED - SHOWN - VISITS - LED_ON)
CODES = ("0", "x" * 12, "xxxxxxxxxxxx-", "Ä", "%00", "%2e%2e", "a" * 500)


@pytest.fixture
def anybody(clinic: Fernhollow, sign_in) -> Client:
    """Somebody who holds every role, so that no door is closed before the nonsense is read."""
    clinic.lead.is_therapist = clinic.lead.is_admin = True
    clinic.lead.save()
    return sign_in(clinic.lead)


def arguments(clinic: Fernhollow) -> dict[str, list[object]]:
    """What stands in the address of each route, for rows that are there."""
    episode = clinic.episode()
    therapist = by(clinic.therapist)
    finding = findings.record(episode, by=therapist, kind="wound", on=TODAY, wound="closed")
    flag = findings.record(episode, by=therapist, kind="red-flag", on=TODAY, note="fever")
    report = findings.record(
        episode, by=therapist, kind="wound", on=TODAY, wound="closed", source="reported", reported_by="Nurse Lind"
    )
    order = instructions.give(episode, by=therapist, item="driving", by_whom="Dr Wren", why="swelling", from_day=9)
    review = reviews.set_review(episode, by=therapist, on=TODAY, in_days=14)
    look = visits.Look(episode, AfterVisit.CONTINUE, measured={MeasureKind.PAIN: Pain(3)})
    visit = visits.record(episode.patient, by=therapist, on=TODAY, looks=[look])
    measured = [visit.code, visit.measurements.get().pk]
    row = episode.follow_ups.get(key="stitches-out")
    appointment = clinic.book([row], date(2026, 4, 2))
    referral = referrals.add(episode.patient, by=therapist, received_on=TODAY, source="Hand surgery")
    own = {
        "dates": [], "patient-new": [], "referral-correct": [referral.code], "appointment-end": [appointment.code],
        "appointment-tell": [appointment.code], "finding-countersign": [episode.code, report.pk],
        "red-flag-close": [episode.code, flag.pk], "red-flag-escalate": [episode.code, flag.pk],
        "review-withdraw": [episode.code, review.pk], "measurement-correct": measured,
        "measurement-withdraw": measured, "follow-up-done": [episode.code, "outcome-review"],
    }  # fmt: skip
    for route in [*record, *appointments]:
        pattern = str(route.pattern)
        if route.name not in own:
            if pattern.startswith("appointments"):
                own[route.name] = [appointment.code]
                continue
            code = episode.patient.code if pattern.startswith("patients") else episode.code
            key = order.pk if "instructions" in pattern else finding.pk
            own[route.name] = [code, key] if "<int:pk>" in pattern else [code]
    return own


@pytest.mark.parametrize("name", FORMS)
def test_nonsense_in_a_form_is_answered_by_a_page(anybody: Client, clinic: Fernhollow, name: str):
    answers = post_nonsense(anybody, reverse(name, args=arguments(clinic)[name]))
    assert {answer.status_code for answer in answers} <= {200, 302, 400, 404, 409, 422}


@pytest.mark.parametrize("name", ["episode", "episode-new", "appointment-new", "instruction-new"])
def test_nonsense_in_the_query_is_answered_by_a_page(anybody: Client, clinic: Fernhollow, name: str):
    address = reverse(name, args=arguments(clinic)[name])
    answers = ask_nonsense(anybody, address, "for", "like", "after", "item")
    assert {answer.status_code for answer in answers} == {200}


@pytest.mark.parametrize("name", sorted(route.name for route in record))
def test_nonsense_in_an_address_is_not_found(anybody: Client, clinic: Fernhollow, name: str):
    known = arguments(clinic)[name]
    address = reverse(name, args=known)
    for value in known:
        for code in (*CODES, "9" * 30):
            spoilt = address.replace(f"/{value}/", f"/{code}/")
            answer = anybody.post(spoilt) if name in PRESSED else anybody.get(spoilt)
            assert answer.status_code == 404


@pytest.mark.parametrize("name", sorted(PRESSED))
def test_a_button_with_a_broken_key_is_refused(anybody: Client, clinic: Fernhollow, name: str):
    assert anybody.post(reverse(name, args=arguments(clinic)[name]), {"key": "nonsense"}).status_code == 400


@pytest.mark.parametrize("text", ["", "\x00", "31/4/26", "9" * 60, "🖐", "today"])
@pytest.mark.parametrize("since", ["", "\x00", "2026-02-30", "2026-03-20"])
def test_the_date_question_answers_in_one_line(anybody: Client, text: str, since: str):
    answer = anybody.post("/dates/", {"text": text, "since": since})
    assert answer.status_code == 200 and "\n" not in answer.content.decode()
