"""Patients and referrals by form: added, looked for among those known, corrected, never overwritten in silence."""

from datetime import date

import pytest
from django.test import Client

from caseload.models import Look, Patient, Referral
from tests.scenario import NHS_NUMBERS, Fernhollow
from tests.web.posting import errors, send

NEW = "/patients/new/"
IVO = {"family": "Harrow", "given": "Ivo", "born_on": "3/4/1961"}


def test_a_patient_is_added_with_numbers_and_opens(admin: Client, clinic: Fernhollow):
    answer = send(admin, NEW, **IVO, nhs_number="999 000 0018", hospital_number="fh 20417", phone="07700 900123")
    patient = Patient.objects.get()
    assert answer.url == f"/patients/{patient.code}/"
    assert patient.born_on == date(1961, 4, 3)
    assert set(patient.identifiers.values_list("value", "as_typed")) == {
        ("9990000018", "999 000 0018"),
        ("FH20417", "fh 20417"),
    }


# The check digit of the NHS number and Ofcom's numbers for fiction: project check values E6 and E7.
@pytest.mark.parametrize(
    ("field", "typed", "code"),
    [
        ("nhs_number", "999 123 4560", "nhs-number-check-digit"),
        ("nhs_number", "0000000000", "nhs-number-placeholder"),
        ("hospital_number", "?", "hospital-number-shape"),
        ("phone", "ring the neighbour", "phone-unreadable"),
        ("email", "ivo at example.org", "email-shape"),
        ("born_on", "3/4/2061", "birth-date-ahead"),
        ("family", "Harr0w <b>", "name-not-a-name"),
        ("given", "", "required"),
    ],
)
def test_what_cannot_be_is_said_at_its_field(admin: Client, field: str, typed: str, code: str):
    answer = send(admin, NEW, **(IVO | {field: typed}))
    assert answer.status_code == 422 and errors(answer) == {field: [code]}
    assert answer.context["form"][field].value() == typed
    assert not Patient.objects.exists()


def test_a_form_sent_twice_adds_one_patient_and_lands_on_it(admin: Client, clinic: Fernhollow):
    page = admin.get(NEW)
    first, second = (send(admin, NEW, page=page, **IVO) for _ in range(2))
    assert first.url == second.url and Patient.objects.count() == 1


@pytest.mark.parametrize(
    "typed",
    [
        IVO,
        IVO | {"born_on": "4/3/1961"},
        IVO | {"born_on": ""},
        IVO | {"family": "Harow"},
        {"family": "Ivo", "given": "Harrow", "born_on": "3/4/1961"},
        {"family": "Else", "given": "Some", "nhs_number": NHS_NUMBERS[0]},
    ],
)
def test_somebody_alike_is_shown_before_another_is_added(admin: Client, clinic: Fernhollow, typed):
    known = clinic.patient(given="Ivo", family="Harrow", born_on=date(1961, 4, 3), nhs_number=NHS_NUMBERS[0])
    answer = send(admin, NEW, **typed)
    assert errors(answer) == {"sure": ["look-alike"]}
    assert f'href="/patients/{known.code}/"' in answer.content.decode()
    assert Patient.objects.count() == 1


def test_somebody_else_is_added_once_that_is_said(admin: Client, clinic: Fernhollow):
    clinic.patient(given="Ivo", family="Harrow", born_on=date(1961, 4, 3))
    page = send(admin, NEW, **IVO)
    assert send(admin, NEW, page=page, sure="on").status_code == 302
    assert Patient.objects.count() == 2


def test_nobody_is_asked_about_somebody_quite_different(admin: Client, clinic: Fernhollow):
    clinic.patient(given="Marian", family="Oakshott", born_on=date(1961, 4, 3))
    assert send(admin, NEW, **IVO).status_code == 302


def test_a_number_that_names_somebody_is_refused_at_its_field(admin: Client, clinic: Fernhollow):
    clinic.patient(nhs_number=NHS_NUMBERS[0])
    other = clinic.patient()
    answer = send(admin, f"/patients/{other.code}/correct/", nhs_number=NHS_NUMBERS[0])
    assert errors(answer) == {"nhs_number": ["number-taken"]}


def test_a_correction_keeps_what_was_not_touched(admin: Client, clinic: Fernhollow):
    patient = clinic.patient(phone="07700 900123", interpreter=True, language="Polish")
    send(admin, f"/patients/{patient.code}/correct/", dressing_allergy="adhesive strips")
    patient.refresh_from_db()
    kept = (patient.phone, patient.interpreter, patient.language, patient.dressing_allergy)
    assert kept == ("07700 900123", True, "Polish", "adhesive strips")


def test_two_corrections_at_once_show_both_versions(admin: Client, lead: Client, clinic: Fernhollow):
    patient = clinic.patient()
    address = f"/patients/{patient.code}/correct/"
    page = admin.get(address)
    send(lead, address, phone="01632 960111")
    answer = send(admin, address, page=page, phone="01632 960222")
    assert answer.status_code == 409
    assert ("Telephone", "01632 960111", "01632 960222") in answer.context["differences"]
    assert send(admin, address, page=answer).status_code == 302, "sent again, it is a decision"
    patient.refresh_from_db()
    assert patient.phone == "01632 960222"


def test_looking_at_a_patient_is_recorded(admin: Client, clinic: Fernhollow):
    patient = clinic.patient()
    admin.get(f"/patients/{patient.code}/")
    look = Look.objects.get()
    assert (look.patient, look.by, look.route) == (patient, clinic.admin, "patient")


def test_the_page_of_a_patient_has_episodes_numbers_and_history(admin: Client, clinic: Fernhollow):
    episode = clinic.episode(clinic.patient(nhs_number=NHS_NUMBERS[0]))
    text = admin.get(f"/patients/{episode.patient.code}/").content.decode()
    for said in ("right ring finger", f"/episodes/{episode.code}/", NHS_NUMBERS[0], "episode opened", "patient added"):
        assert said in text


def test_a_referral_is_added_and_corrected(admin: Client, clinic: Fernhollow):
    patient = clinic.patient()
    send(admin, f"/patients/{patient.code}/referrals/new/", received_on="yesterday", source="Hand surgery")
    referral = Referral.objects.get()
    assert referral.received_on == date(2026, 3, 31)
    address = f"/referrals/{referral.code}/correct/"
    assert set(errors(send(admin, address, ended_on="today"))) == {"ended_how"}
    send(admin, address, priority="urgent", ended_on="today", ended_how="declined")
    referral.refresh_from_db()
    assert (referral.priority, referral.ended_how) == ("urgent", "declined")


@pytest.mark.parametrize(
    ("typed", "wrong"),
    [
        ({"received_on": "tomorrow", "source": "GP"}, {"received_on": ["received-in-future"]}),
        ({"received_on": "today"}, {"source": ["required"]}),
    ],
)
def test_a_referral_that_cannot_be_is_refused(admin: Client, clinic: Fernhollow, typed, wrong):
    assert errors(send(admin, f"/patients/{clinic.patient().code}/referrals/new/", **typed)) == wrong
