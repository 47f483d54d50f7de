"""What each row of a list is found to be, held against the record (common practice; issue "Real input")."""

from datetime import date

import pytest

from caseload.actions import episodes, patients
from caseload.errors import Refusal
from caseload.models import Episode, Patient
from tests.intake.conftest import changes, codes, said, verdicts
from tests.scenario import by


def test_an_upload_writes_nothing_of_the_record(upload):
    assert verdicts(upload(said())) == ["new"]
    assert not Patient.objects.exists()
    assert not Episode.objects.exists()


def test_a_row_taken_before_is_known(take, upload):
    take(said())
    assert verdicts(upload(said(notes="-"))) == ["known"]


def test_a_corrected_fact_is_a_change_field_by_field(take, upload):
    take(said(suture="?", stitches_in=""))
    batch = upload(said())
    assert verdicts(batch) == ["changed"]
    assert changes(batch) == {
        "suture": ["unknown", "non-absorbable"], "stitches_in": ["", "3"], "material": ["", "nylon"],
    }  # fmt: skip


def test_an_empty_cell_never_erases(take, upload):
    take(said())
    assert verdicts(upload(said(suture="", stitches_in="", surgeon="", telephone="", hand_therapy=""))) == ["known"]


def test_a_planned_surgery_takes_its_new_day(take, upload):
    take(said(surgery_date="2026-04-13"))
    batch = upload(said(surgery_date="2026-04-20"))
    assert verdicts(batch) == ["changed"]
    assert changes(batch) == {"surgery_on": ["2026-04-13", "2026-04-20"]}


def test_another_day_for_a_digit_operated_already_is_asked_about(take, upload):
    take(said())
    batch = upload(said(surgery_date="2026-03-23"))
    assert verdicts(batch) == ["doubtful"]
    assert codes(batch) == {"operation-near"}
    assert batch.rows.get().match["episodes"] == [Episode.objects.get().code, "new"]


def test_another_digit_of_a_patient_known_by_number_is_new_for_that_patient(take, upload):
    take(said())
    batch = upload(said(digit="middle"))
    assert verdicts(batch) == ["new"]
    assert batch.rows.get().match["patient"] == Patient.objects.get().code


def test_name_and_birth_date_alone_settle_nobody(take, upload):
    take(said(nhs_number="", telephone=""))
    batch = upload(said(nhs_number="", telephone="", digit="middle"))
    assert (verdicts(batch), codes(batch)) == (["doubtful"], {"person-on-record"})


def test_name_birth_date_and_telephone_settle_it(take, upload):
    take(said())
    assert verdicts(upload(said(nhs_number="", digit="middle"))) == ["new"]
    assert upload(said(nhs_number="", digit="little")).rows.get().match["patient"] == Patient.objects.get().code


@pytest.mark.parametrize(
    "cells",
    [
        {"nhs_number": "", "date_of_birth": "1957-06-15"},
        {"nhs_number": "", "date_of_birth": "1957-06-14", "first_name": "Marion"},
        {"nhs_number": "", "surname": "Ashdowne"},
        {"nhs_number": "999 000 0026"},
    ],
    ids=["birth date near", "given name near", "family name near", "another number"],
)
def test_somebody_nearly_the_same_is_doubtful(take, upload, cells):
    take(said())
    assert codes(upload(said(digit="index", **cells))) == {"person-on-record"}


def test_a_number_under_another_name_is_doubtful_and_nobody_new_may_take_it(take, upload):
    take(said())
    batch = upload(said(surname="Brackley", first_name="Desmond", date_of_birth="1949-11-02"))
    assert verdicts(batch) == ["doubtful"]
    assert batch.rows.get().match["people"] == [Patient.objects.get().code]


def test_numbers_of_two_patients_on_one_row_are_asked_about(clinic, upload):
    both = {"given": "Marian", "family": "Ashdown", "born_on": date(1957, 6, 14), "sure": True}
    patients.add(by=by(clinic.admin), nhs_number="9990000018", **both)
    patients.add(by=by(clinic.admin), hospital_number="QS77", **both)
    data = b"NHS number,Hospital number,Surname,First name,Date of birth,Surgery date,Side,Digit,Site\n"
    batch = upload(data + b"9990000018,QS77,Ashdown,Marian,1957-06-14,2026-03-20,right,ring,Fernhollow\n")
    assert (verdicts(batch), len(batch.rows.get().match["people"])) == (["doubtful"], 2)


def test_two_people_of_one_name_are_both_marked_and_both_new(upload):
    other = said(nhs_number="999 000 0026", date_of_birth="1971-01-30", telephone="")
    batch = upload(said(), other)
    assert verdicts(batch) == ["new", "new"]
    assert [len(row.match["notes"]) for row in batch.rows.all()] == [1, 1]


def test_a_date_that_reads_two_ways_is_doubtful_and_the_column_may_settle_it(upload):
    assert codes(upload(said(surgery_date="3/4/26"))) == {"date-reads-two-ways"}
    settled = upload(said(surgery_date="3/4/26"), said(surgery_date="20/3/26", nhs_number="999 000 0026", surname="B"))
    assert "date-reads-two-ways" not in codes(settled)


def test_an_unknown_site_is_refused_with_the_sites_there_are(upload):
    batch = upload(said(site="Hill Top"))
    assert (verdicts(batch), codes(batch)) == (["refused"], {"site-unknown"})
    assert "Fernhollow, Quay Street" in batch.rows.get().match["remarks"][0][2]


def test_a_row_without_a_site_takes_that_of_the_list_or_is_refused(clinic, upload):
    assert codes(upload(said(site=""))) == {"site-missing"}
    assert verdicts(upload(said(site=""), site=clinic.quay)) == ["new"]


def test_two_digits_in_a_cell_are_one_row_and_two_episodes(take):
    batch = take(said(digit="ring and middle", stitches_in=""))
    assert sorted(batch.rows.get().episodes) == ["middle", "ring"]
    assert Episode.objects.count() == 2


def test_a_closed_episode_is_corrected_only_when_somebody_says_so(clinic, take, upload):
    take(said())
    episodes.close(
        Episode.objects.get(), by=by(clinic.lead), version=None, how="transferred", on=date(2026, 4, 1), received_by="X"
    )
    assert codes(upload(said(stitches_in="5"))) == {"episode-closed"}


def test_an_operation_that_was_not_done_does_not_come_back_with_the_same_list(clinic, take, upload):
    take(said(surgery_date="2026-04-13"))
    episode = Episode.objects.get()
    episodes.close(episode, by=by(clinic.lead), version=None, how="operation-not-done", on=date(2026, 4, 1))
    assert verdicts(upload(said(surgery_date="2026-04-13"))) == ["known"]


def test_a_file_that_is_no_list_is_refused(upload):
    with pytest.raises(Refusal, match="document"):
        upload(b"%PDF-1.7")
