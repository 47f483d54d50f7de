"""Taking a list in: once, whole or not at all, and nothing but what was shown."""

from datetime import date
from uuid import uuid4

import pytest
from django.db import IntegrityError

from caseload.actions import confirming, episodes, findings, intake, patients, referrals, taking
from caseload.actions.act import By, Repeated
from caseload.actions.rederive import rederive
from caseload.errors import Refusal
from caseload.models import Episode, FollowUp, Identifier, Patient, Referral, Standing, TrailEntry
from caseload.reads.matching.entry import Decision
from tests.intake.conftest import codes, listing, said, verdicts
from tests.scenario import TODAY, by

RECORD = (Patient, Identifier, Referral, Episode, FollowUp, Standing)


def record() -> list[tuple[object, ...]]:
    return [tuple(row.items()) for model in RECORD for row in model.objects.order_by("pk").values()]


def other(**cells: str) -> dict[str, str]:
    own = {"nhs_number": "999 000 0026", "surname": "Brackley", "first_name": "Desmond", "date_of_birth": "1949-11-02"}
    return said(**(own | {"telephone": "07700 900102"} | cells))


def test_what_a_list_makes_is_what_the_acts_make(clinic, take):
    take(said())
    listed = Episode.objects.get()
    typed = patients.add(
        by=by(clinic.admin), given="Marian", family="Ashdown", born_on=date(1957, 6, 14), phone="07700 900101",
        hospital_number="QS 1", sure=True,
    )  # fmt: skip
    referral = referrals.add(typed, by=by(clinic.admin), received_on=date(2026, 3, 21), source="P Quill")
    opened = clinic.episode(
        typed, referral=referral, therapist=None, surgeon="P Quill", material="nylon", stitches_in=3, for_therapy=True
    )
    assert shape(listed) == shape(opened)


def shape(episode: Episode) -> list[object]:
    """Everything stored of an episode, without keys and codes."""
    owner = Patient.objects.filter(pk=episode.patient_id)
    rows = (
        owner, Referral.objects.filter(pk=episode.referral_id), Episode.objects.filter(pk=episode.pk),
        FollowUp.objects.filter(episode=episode), Standing.objects.filter(episode=episode),
        TrailEntry.objects.filter(patient=episode.patient_id).order_by("act"),
    )  # fmt: skip
    own = {"id", "code", "patient_id", "referral_id", "episode_id", "subject_id"}
    return [{name: value for name, value in row.items() if name not in own} for of in rows for row in of.values()]


def test_everything_derived_is_stored_and_equal(take):
    take(said(), other(digit="ring and middle", stitches_in=""), other(side="left", digit="thumb", suture="?"))
    assert Episode.objects.count() == 4
    assert rederive(by=by(), mend=False).moved == {}


def test_the_same_file_again_changes_nothing(take):
    data = listing(said(), other(), other(digit="little"))
    take(data)
    before = record()
    assert verdicts(take(data)) == ["known"] * 3
    assert record() == before


def test_the_same_file_brings_no_corrected_value_back(clinic, take, upload):
    data = listing(said())
    take(data)
    episode = Episode.objects.get()
    episodes.correct(episode, by=by(clinic.admin), version=None, surgery_on=date(2026, 3, 19), stitches_in=5)
    patients.correct(episode.patient, by=by(clinic.admin), version=None, given="Marianne", phone="01632 960222")
    assert verdicts(upload(data)) == ["known"]


def test_a_new_list_that_contradicts_a_correction_is_asked_about(clinic, take, upload):
    take(said())
    episodes.correct(Episode.objects.get(), by=by(clinic.admin), version=None, stitches_in=5)
    assert codes(upload(said(stitches_in="6"))) == {"record-corrected"}


def test_one_batch_is_confirmed_once(clinic, upload):
    batch = upload(said())
    confirming.confirm(batch, by=by(clinic.admin), version=batch.version)
    before = record()
    with pytest.raises(Refusal) as refusal:
        confirming.confirm(batch, by=by(clinic.lead), version=None)
    assert refusal.value.code == "confirmed-already"
    assert record() == before


def test_a_confirmation_typed_against_an_older_version_is_refused(clinic, upload):
    batch = upload(said(surgery_date="3/4/26"))
    seen = batch.version
    intake.decide(batch, by=by(clinic.admin), version=seen, decisions={2: Decision(read=True)})
    with pytest.raises(Refusal) as refusal:
        confirming.confirm(batch, by=by(clinic.lead), version=seen)
    assert refusal.value.code == "changed-meanwhile"


def test_two_uploads_of_one_file_confirmed_after_each_other_make_everything_once(clinic, upload):
    first, second = upload(listing(said())), upload(listing(said()))
    confirming.confirm(first, by=by(clinic.admin), version=None)
    before = record()
    confirming.confirm(second, by=by(clinic.lead), version=None)
    assert record() == before
    assert second.rows.get().outcome == "known"


def test_a_key_sent_twice_counts_once(clinic, upload):
    batch, once = upload(said()), By(clinic.admin, by().at, TODAY, uuid4())
    confirming.confirm(batch, by=once, version=None)
    with pytest.raises(Repeated) as repeated:
        confirming.confirm(batch, by=once, version=None)
    assert repeated.value.outcome == batch.code


def test_a_fault_in_the_middle_leaves_nothing_behind(clinic, upload, monkeypatch):
    batch, before = upload(said(), other()), record()

    def fail(*args, **kwargs):
        raise RuntimeError("the disk is full")

    monkeypatch.setattr(taking, "save_new", fail)
    with pytest.raises(RuntimeError):
        confirming.confirm(batch, by=by(clinic.admin), version=None)
    batch.refresh_from_db()
    assert (record(), batch.confirmed_at) == (before, None)


def test_a_clash_in_the_database_is_a_refusal_and_nothing_is_written(clinic, upload, monkeypatch):
    batch = upload(said())

    def clash(*args, **kwargs):
        raise IntegrityError("unique")

    monkeypatch.setattr(taking, "save_new", clash)
    with pytest.raises(Refusal) as refusal:
        confirming.confirm(batch, by=by(clinic.admin), version=None)
    assert refusal.value.code == "record-moved"
    assert not Patient.objects.exists()


def test_a_row_of_which_the_record_moved_is_left_out_and_said(clinic, upload):
    batch = upload(said(), other())
    patients.add(by=by(clinic.admin), given="Marian", family="Ashdown", nhs_number="9990000018", sure=True)
    confirming.confirm(batch, by=by(clinic.admin), version=None)
    assert "moved-meanwhile" in codes(batch, 2)
    assert [row.taken_at is not None for row in batch.rows.all()] == [False, True]


def test_a_row_that_somebody_entered_meanwhile_is_known_and_written_by_nobody(clinic, take, upload):
    batch = upload(said())
    take(said(notes="entered by a colleague"))
    before = record()
    confirming.confirm(batch, by=by(clinic.admin), version=None)
    assert (record(), batch.rows.get().outcome) == (before, "known")


def test_a_correction_that_the_record_refuses_leaves_that_row_out_and_takes_the_others(clinic, take, upload):
    take(said())
    episode = Episode.objects.get()
    findings.record(episode, by=by(clinic.therapist), kind="wound", on=date(2026, 3, 31), source="seen", wound="closed")
    batch = upload(said(surgery_date="2026-04-01"), other())
    decisions = {2: Decision(operation=episode.code)}
    intake.decide(batch, by=by(clinic.admin), version=None, decisions=decisions)
    confirming.confirm(batch, by=by(clinic.admin), version=None)
    episode.refresh_from_db()
    assert "moved-meanwhile" in codes(batch, 2)
    assert (episode.surgery_on, Patient.objects.count()) == (date(2026, 3, 20), 2)


def test_corrections_go_through_the_acts_and_leave_their_trail(take):
    take(said(suture="?", stitches_in=""))
    take(said())
    assert TrailEntry.objects.filter(act="episode.correct").count() == 1
    assert Episode.objects.get().follow_ups.filter(key="stitches-out", state="due").exists()
    assert rederive(by=by(), mend=False).moved == {}


def test_a_referral_is_made_for_a_day_of_receipt_or_for_therapy_and_covers_both_digits(take):
    take(said(digit="ring; middle", stitches_in=""), other(hand_therapy="yes", referral_received=""))
    first, second = Referral.objects.order_by("pk")
    assert (first.received_on, first.episodes.count()) == (date(2026, 3, 21), 2)
    assert second.received_on == TODAY


def test_a_running_referral_on_record_is_used_again(clinic, take):
    take(said())
    take(said(digit="thumb"))
    assert Referral.objects.get().episodes.count() == 2


def test_doubtful_rows_stay_out_until_somebody_has_answered(take):
    batch = take(said(surgery_date="3/4/26"), other())
    assert [row.taken_at is not None for row in batch.rows.all()] == [False, True]


@pytest.mark.parametrize("choice", ["same", "other"])
def test_a_look_alike_is_taken_for_the_same_person_or_for_somebody_else_as_somebody_says(clinic, take, upload, choice):
    take(said(nhs_number="", telephone=""))
    known = Patient.objects.get()
    batch = upload(said(nhs_number="", telephone="", digit="thumb"))
    person = known.code if choice == "same" else "new"
    intake.decide(batch, by=by(clinic.admin), version=None, decisions={2: Decision(person=person)})
    confirming.confirm(batch, by=by(clinic.admin), version=None)
    assert Patient.objects.count() == (1 if choice == "same" else 2)
    assert known.episodes.count() == (2 if choice == "same" else 1)


def test_an_answered_row_is_known_when_the_same_file_comes_again(clinic, take, upload):
    take(said(nhs_number="", telephone=""))
    data = listing(said(nhs_number="", telephone="", digit="thumb", surgery_date="3/4/26"))
    batch = upload(data)
    intake.decide(batch, by=by(clinic.admin), version=None, decisions={2: Decision(person="new")})
    confirming.confirm(batch, by=by(clinic.admin), version=None)
    assert verdicts(upload(data)) == ["known"]


def test_a_choice_that_was_never_offered_decides_nothing(clinic, take, upload):
    take(said())
    stranger = clinic.patient()
    batch = upload(other(nhs_number="999 000 0018"))
    for person in ("new", stranger.code):
        intake.decide(batch, by=by(clinic.admin), version=None, decisions={2: Decision(person=person)})
        assert batch.rows.get().outcome == ""


@pytest.mark.parametrize(("choice", "count"), [("corrects", 1), ("another", 2)])
def test_another_day_for_the_digit_corrects_or_is_another_operation_as_somebody_says(
    clinic, take, upload, choice, count
):
    take(said())
    code = Episode.objects.get().code
    batch = upload(said(surgery_date="2026-03-23"))
    decision = Decision(operation=code if choice == "corrects" else "new")
    intake.decide(batch, by=by(clinic.admin), version=None, decisions={2: decision})
    confirming.confirm(batch, by=by(clinic.admin), version=None)
    assert Episode.objects.filter(surgery_on=date(2026, 3, 23)).count() == 1
    assert Episode.objects.count() == count


def test_the_row_that_somebody_says_is_right_stands_in_place_of_the_earlier_one(clinic, upload):
    batch = upload(said(), said(stitches_in="5"))
    assert verdicts(batch) == ["new", "doubtful"]
    intake.decide(batch, by=by(clinic.admin), version=None, decisions={3: Decision(read=True)})
    confirming.confirm(batch, by=by(clinic.admin), version=None)
    assert Episode.objects.get().stitches_in == 5


def test_a_number_given_to_two_people_goes_to_neither_of_them_twice(clinic, upload):
    batch = upload(said(), other(nhs_number="999 000 0018"))
    decisions = {2: Decision(read=True), 3: Decision(read=True)}
    intake.decide(batch, by=by(clinic.admin), version=None, decisions=decisions)
    assert codes(batch, 3) >= {"number-twice"}
    confirming.confirm(batch, by=by(clinic.admin), version=None)
    assert Patient.objects.count() == 1


def test_a_search_key_is_cut_to_its_column_as_that_of_a_typed_patient_is(clinic, take):
    family, given = "Æ" * 80, "Œ" * 80
    take(said(surname=family, first_name=given))
    listed = Patient.objects.get().search_key
    typed = patients.add(by=by(clinic.admin), family=family, given=given, born_on=date(1957, 6, 14), sure=True)
    assert listed == typed.search_key
    assert len(listed) == Patient._meta.get_field("search_key").max_length
