"""The waits of a patient on their page: how long, held against what, and why, in sentences."""

import ast
from datetime import date
from inspect import getsource

import pytest
from django.test import Client

from caseload.actions import appointments, findings, referrals
from caseload.models import Patient
from caseload.timetable.plan import Reason
from caseload.timetable.terms import Outcome, Source, WoundState
from caseload.waits import clocks
from caseload.wording.waits_reasons import PLAIN, say_why
from tests.scenario import TODAY, Fernhollow, by
from tests.web.reading import read

DAY = date(2026, 3, 9)


def shown(client: Client, patient: Patient) -> str:
    return " ".join(read(client.get(f"/patients/{patient.code}/")).split())


def codes() -> set[str]:
    """Every code of a reason that clocks give."""
    calls = [node for node in ast.walk(ast.parse(getsource(clocks))) if isinstance(node, ast.Call)]
    given = [call.args[0] for call in calls if ast.unparse(call.func) == "Reason"]
    given += [call.args[2] for call in calls if ast.unparse(call.func) == "_closed" and len(call.args) > 2]
    words = {node.value for code in given for node in ast.walk(code) if isinstance(node, ast.Constant)}
    return {word for word in words if isinstance(word, str)} | {"episode-closed"}


def test_every_reason_has_words_and_no_words_are_left_over():
    assert codes() == {*PLAIN, "cancelled"}


@pytest.mark.parametrize(
    ("reason", "said"),
    [
        (Reason("cancelled", (DAY,)), "Cancelled: Mon 9 Mar 2026. A cancellation does not begin the wait anew."),
        (Reason("booked", (DAY, DAY)), "It stopped on Mon 9 Mar 2026, when the patient came."),
        (Reason("booked", (DAY, TODAY)),
         "It stopped on Mon 9 Mar 2026, when the first appointment was booked, for Wed 1 Apr 2026."),
        (Reason("wound-closed", (DAY, Source.SEEN)),
         "It stopped on Mon 9 Mar 2026, when the wound was recorded as closed (seen here)."),
        (Reason("not-closed", (DAY, WoundState.CONCERN)), "It still runs: on Mon 9 Mar 2026 the wound was of concern."),
        (Reason("referral-ended", (DAY, "declined")),
         "It ended on Mon 9 Mar 2026 with the referral: declined by the patient."),
        (Reason("target", (14, DAY)), "The target is 14 days, so Mon 9 Mar 2026 at the latest."),
    ],
)  # fmt: skip
def test_a_reason_is_a_sentence(reason, said):
    assert say_why(reason) == said


def test_the_page_tells_each_wait_its_target_and_why(clinic: Fernhollow, admin: Client):
    patient = clinic.patient()
    referral = referrals.add(patient, by=by(clinic.admin), received_on=date(2026, 3, 2), source="hand surgery")
    episode = clinic.episode(patient, suture="absorbable", referral=referral)
    missed = clinic.book([episode.follow_ups.get(key="wound-check")], TODAY)
    appointments.end(missed, by=by(clinic.admin), outcome=Outcome.DID_NOT_ATTEND)
    findings.record(episode, by=by(clinic.therapist), kind="wound", on=TODAY, source="seen", wound="closed")
    text = shown(admin, patient)
    for said in (
        "Referral to first visit", "referral of Mon 2 Mar 2026", "30 days so far", "16 days over",
        "The first visit was missed, last on Wed 1 Apr 2026.", "Nothing was booked after it.",
        "wound closed Wed 1 Apr 2026", "<small>12 days</small>", "It began on Fri 20 Mar 2026, the day of surgery.",
    ):  # fmt: skip
        assert said in text


def test_an_operation_to_come_has_its_wait_still_to_begin(clinic: Fernhollow, admin: Client):
    assert "still to begin" in shown(admin, clinic.episode(surgery_on=date(2026, 4, 9)).patient)


def test_who_waits_for_nothing_has_no_such_section(clinic: Fernhollow, admin: Client):
    assert 'id="waits"' not in shown(admin, clinic.patient())


def test_who_came_from_elsewhere_is_entered_with_the_day(clinic: Fernhollow, admin: Client):
    patient = clinic.patient()
    typed = {"received_on": "2/3", "arrived_on": "30/3", "source": "Hand surgery", "priority": "routine"}
    admin.post(f"/patients/{patient.code}/referrals/new/", typed)
    assert "transferred in Mon 30 Mar 2026" in shown(admin, patient)
    assert "Another clinic had the patient until Mon 30 Mar 2026" in shown(admin, patient)
