"""What the database itself refuses of visits, what hangs on them, and drafts, on SQLite and PostgreSQL alike."""

from datetime import date

import pytest
from django.db import DatabaseError, transaction

from caseload.models import Draft, Examined, Measurement, Visit
from tests.record.seeing import look, seen
from tests.record.test_constraints import NOW, refused
from tests.scenario import TODAY, Fernhollow


def visit(clinic: Fernhollow, **said) -> Visit:
    patient = said.pop("patient", None) or clinic.patient()
    own = {"on": TODAY, "by": clinic.therapist, "recorded_at": NOW, "recorded_on": TODAY}
    return Visit.objects.create(patient=patient, **(own | said))


@pytest.mark.parametrize(
    "said",
    [
        {"source": "hearsay"},
        {"source": ""},
        {"source": "reported"},
        {"on": date(2026, 4, 2)},
        {"on": None},
        {"recorded_on": None},
        {"withdrawn_at": NOW},
        {"withdrawn_why": "other hand"},
    ],
)
def test_a_visit_says_one_whole_thing(clinic, said):
    patient = clinic.patient()
    assert not refused(lambda: visit(clinic, patient=patient))
    assert refused(lambda: visit(clinic, patient=patient, **said))


def test_an_appointment_has_one_visit(clinic):
    episode = clinic.episode()
    appointment = clinic.book([episode.follow_ups.get(key="stitches-out")], TODAY)
    visit(clinic, patient=episode.patient, appointment=appointment)
    assert refused(lambda: visit(clinic, patient=episode.patient, appointment=appointment))


@pytest.mark.parametrize(
    "said",
    [
        {"after": ""},
        {"after": "tea"},
        {"after": None},
        {"after": "review"},
        {"after": "refer-back"},
        {"started": None},
    ],
)
def test_a_digit_of_a_visit_has_a_next_step_that_is_whole(clinic, said):
    episode = clinic.episode()
    own = {"visit": visit(clinic, patient=episode.patient), "episode": episode, "after": "continue"}
    assert refused(lambda: Examined.objects.create(**(own | said)))
    Examined.objects.create(**own)
    assert refused(lambda: Examined.objects.create(**own)), "a digit is looked at once in a visit"


def test_a_review_hangs_on_the_digit_that_asked_for_it_only(clinic):
    episode = clinic.episode()
    made = seen(clinic, look(episode, after="review", in_days=14))
    review = made.examined.get().review
    other = visit(clinic, patient=episode.patient)
    own = {"visit": other, "episode": episode, "review": review}
    assert refused(lambda: Examined.objects.create(after="continue", **own))
    assert refused(lambda: Examined.objects.create(after="review", **own)), "and on one digit only"


def measured(clinic: Fernhollow) -> dict:
    episode = clinic.episode()
    return {
        "visit": visit(clinic, patient=episode.patient), "episode": episode, "kind": "pain", "on": TODAY,
        "body": {"shape": 1, "score": 3}, "by": clinic.therapist, "recorded_at": NOW,
    }  # fmt: skip


@pytest.mark.parametrize(
    "said", [{"kind": "mood"}, {"kind": ""}, {"body": None}, {"withdraws": True, "why": "other hand"}, {"on": None}]
)
def test_a_measurement_says_one_whole_thing(clinic, said):
    own = measured(clinic)
    assert refused(lambda: Measurement.objects.create(**(own | said)))


def test_a_measure_is_taken_once_in_a_visit_and_corrected_once_with_a_reason(clinic):
    own = measured(clinic)
    first = Measurement.objects.create(**own)
    assert refused(lambda: Measurement.objects.create(**own))
    assert refused(lambda: Measurement.objects.create(**own, corrects=first))
    later = Measurement.objects.create(**own, corrects=first, why="mistyped")
    assert refused(lambda: Measurement.objects.create(**own, corrects=first, why="again"))
    Measurement.objects.create(**own, corrects=later, why="again")


def test_measurements_cannot_be_changed(clinic):
    Measurement.objects.create(**measured(clinic))
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        Measurement.objects.update(on=date(2026, 3, 31))


def test_a_person_has_one_draft_at_a_place(clinic):
    own = {"place": "/episodes/abc/visit/", "body": {"note": ["half"]}, "saved_at": NOW}
    Draft.objects.create(staff=clinic.therapist, **own)
    Draft.objects.create(staff=clinic.lead, **own)
    assert refused(lambda: Draft.objects.create(staff=clinic.therapist, **own))
    assert refused(lambda: Draft.objects.create(staff=clinic.admin, **(own | {"body": None})))
