"""What a list changes of the record, and what it leaves alone: an empty cell, an old word, a hand's correction."""

from datetime import date

import pytest

from caseload.actions import confirming, episodes, intake, patients
from caseload.models import Episode, Patient, Referral
from tests.intake.conftest import changes, codes, listing, said, verdicts
from tests.scenario import by


def test_rows_of_one_new_person_make_one_patient_of_all_that_they_say(take):
    take(said(telephone=""), said(digit="thumb", notes="second row"))
    patient = Patient.objects.get()
    assert (patient.phone, patient.episodes.count()) == ("07700 900101", 2)


@pytest.mark.parametrize(
    ("cells", "field", "was", "now"),
    [
        ({"site": "Quay Street"}, "site", "Fernhollow", "Quay Street"),
        ({"surgeon": "T Lowe"}, "surgeon", "P Quill", "T Lowe"),
        ({"stitches_in": "4"}, "stitches_in", "3", "4"),
        ({"suture": "polyglactin"}, "suture", "non-absorbable", "absorbable"),
        ({"referral_received": "2026-03-23"}, "received_on", "2026-03-21", "2026-03-23"),
        ({"notes": "left-handed"}, "notes", "", "left-handed"),
        ({"telephone": "07700 900199"}, "phone", "07700 900101", "07700 900199"),
    ],
)
def test_what_a_new_list_says_otherwise_is_a_change(take, upload, cells, field, was, now):
    take(said())
    batch = upload(said(**cells))
    assert verdicts(batch) == ["changed"]
    assert changes(batch)[field] == [was, now]
    confirming.confirm(batch, by=by(), version=None)
    assert verdicts(upload(said(**cells))) == ["known"]


def test_notes_are_added_to_those_on_record(take):
    take(said(notes="lives alone"))
    take(said(notes="left-handed"))
    assert Episode.objects.get().notes == "lives alone\nleft-handed"


def test_a_telephone_entered_by_hand_is_not_replaced_by_one_of_a_list(clinic, take, upload):
    take(said())
    patients.correct(Patient.objects.get(), by=by(clinic.admin), version=None, phone="01632 960222")
    batch = upload(said(telephone="07700 900199"))
    assert (verdicts(batch), changes(batch)) == (["known"], {})


def test_a_number_that_the_record_lacks_is_added(take, upload):
    take(said(nhs_number=""))
    batch = upload(said())
    assert changes(batch) == {"nhs-number": ["", "999 000 0018"]}
    confirming.confirm(batch, by=by(), version=None)
    assert Patient.objects.get().identifiers.get().value == "9990000018"


def test_a_missing_surgery_date_is_filled_and_a_missing_finger_is_asked_about(clinic, take, upload):
    take(said())
    episode = Episode.objects.get()
    episodes.correct(episode, by=by(clinic.admin), version=None, surgery_on=None)
    assert changes(upload(said(surgery_date="2026-03-24"))) == {"surgery_on": ["", "2026-03-24"]}
    episodes.correct(episode, by=by(clinic.admin), version=None, surgery_on=date(2026, 3, 24), digit="")
    assert codes(upload(said(surgery_date="2026-03-24", digit="index"))) == {"operation-near"}


def test_an_earlier_list_that_comes_again_after_a_later_one_brings_nothing_back(take, upload):
    first = listing(said(stitches_in="3"))
    take(first)
    take(said(stitches_in="4"))
    assert verdicts(upload(first)) == ["known"]
    assert verdicts(upload(said(stitches_in="3", notes="-"))) == ["changed"]


def test_a_referral_is_added_to_an_episode_that_had_none(take):
    take(said(hand_therapy="no", referral_received=""))
    assert not Referral.objects.exists()
    take(said())
    episode = Episode.objects.get()
    assert (episode.for_therapy, episode.referral.received_on) == (True, date(2026, 3, 21))


def test_taking_doubtful_rows_as_read_chooses_nobody(clinic, take, upload):
    take(said(nhs_number="", telephone=""))
    batch = upload(said(nhs_number="", telephone="", digit="thumb"), said(nhs_number="999 000 0026", surname="Brackley",
                   first_name="Desmond", date_of_birth="1949-11-02", surgery_date="3/4/26"))  # fmt: skip
    intake.accept_doubtful(batch, by=by(clinic.admin))
    assert list(batch.rows.values_list("outcome", flat=True)) == ["", "new"]


def test_a_birth_date_on_record_after_the_surgery_refuses_the_row(clinic, take, upload):
    take(said())
    patients.correct(Patient.objects.get(), by=by(clinic.admin), version=None, born_on=None)
    episodes.close(
        Episode.objects.get(), by=by(clinic.lead), version=None, how="operation-not-done", on=date(2026, 4, 1)
    )
    patients.correct(Patient.objects.get(), by=by(clinic.admin), version=None, born_on=date(2026, 3, 21))
    assert codes(upload(said(digit="thumb", date_of_birth=""))) >= {"surgery-before-birth"}
