"""Episodes by form: opened, corrected with what moves shown first, closed in one act."""

from datetime import date

import pytest
from django.test import Client

from caseload.actions import episodes
from caseload.models import Episode, Instruction, Patient
from tests.scenario import TODAY, Fernhollow, by
from tests.web.posting import errors, send


def new(patient: Patient) -> str:
    return f"/patients/{patient.code}/episodes/new/"


def test_an_episode_is_opened_under_the_rules_in_force(admin: Client, clinic: Fernhollow):
    patient = clinic.patient()
    answer = send(
        admin, new(patient), surgery_on="20/3/26", side="right", digit="ring", suture="non-absorbable",
        stitches_in="4", therapist=clinic.therapist.code, site=clinic.site.code,
    )  # fmt: skip
    episode = Episode.objects.get()
    assert answer.url == f"/episodes/{episode.code}/" and episode.rules == clinic.rules
    assert episode.follow_ups.get(key="stitches-out").proposed_on == date(2026, 4, 2)


def test_an_episode_may_be_opened_before_everything_is_known(admin: Client, clinic: Fernhollow):
    send(admin, new(clinic.patient()), site=clinic.site.code)
    page = admin.get(f"/episodes/{Episode.objects.get().code}/")
    assert page.status_code == 200
    text = page.content.decode()
    assert "Without a surgery date no day can be counted" in text and "Fact missing" in text


def test_the_same_digit_on_the_same_day_is_one_episode(admin: Client, clinic: Fernhollow):
    episode = clinic.episode()
    answer = send(admin, new(episode.patient), surgery_on="20/3/26", side="right", digit="ring", site=clinic.site.code)
    assert errors(answer) == {"surgery_on": ["episode-known"]}


def test_a_second_digit_of_the_day_starts_from_the_first(admin: Client, clinic: Fernhollow):
    episode = clinic.episode(surgeon="Dr Wren")
    page = admin.get(f"{new(episode.patient)}?like={episode.code}")
    first = page.context["form"]
    assert (first["surgery_on"].value(), first["side"].value(), first["surgeon"].value()) == (
        "Fri 20 Mar 2026", "right", "Dr Wren",
    )  # fmt: skip
    assert first["digit"].value() in (None, "")


@pytest.mark.parametrize(
    ("typed", "wrong"),
    [
        ({"surgery_on": "20/3/2028"}, {"surgery_on": ["surgery-too-far"]}),
        ({"surgery_on": "20/3/1950"}, {"surgery_on": ["surgery-before-birth"]}),
        ({"surgery_on": "30/2/26"}, {"surgery_on": ["date-impossible"]}),
        ({"suture": "none", "stitches_in": "4"}, {"stitches_in": ["stitches-none"]}),
        ({"stitches_in": "400"}, {"stitches_in": ["max_value"]}),
        ({"digit": "sixth"}, {"digit": ["invalid_choice"]}),
        ({"site": "nowhere"}, {"site": ["invalid_choice"]}),
    ],
)
def test_facts_that_cannot_be_are_refused_at_their_field(admin: Client, clinic: Fernhollow, typed, wrong):
    assert errors(send(admin, new(clinic.patient()), **({"site": clinic.site.code} | typed))) == wrong
    assert not Episode.objects.exists()


def test_a_correction_shows_what_moves_before_it_is_saved(admin: Client, clinic: Fernhollow):
    episode = clinic.episode()
    address = f"/episodes/{episode.code}/correct/"
    page = send(admin, address, surgery_on="23/3/26", preview="1")
    # Worked days of the trade: surgery 20 March gives Thu 2 April, 23 March gives Tue 7 April.
    assert "Stitches out: Thu 2 Apr 2026 → Tue 7 Apr 2026" in page.context["moves"]
    assert "Fri 20 Mar 2026" in page.content.decode(), "the bar on top still says what is stored"
    episode.refresh_from_db()
    assert episode.surgery_on == date(2026, 3, 20) and episode.version == 1
    send(admin, address, page=page)
    assert episode.follow_ups.get(key="stitches-out").proposed_on == date(2026, 4, 7)


def test_a_corrected_surgery_date_asks_for_the_instructions_again(therapist: Client, clinic: Fernhollow):
    episode = clinic.episode()
    address = f"/episodes/{episode.code}/"
    send(therapist, f"{address}instructions/new/", item="driving", from_day="9", by_whom="Dr Wren", why="swelling")
    send(therapist, f"{address}correct/", surgery_on="23/3/26")
    text = therapist.get(address).content.decode()
    assert "The surgery date was corrected since. Does this still hold?" in text
    send(therapist, f"{address}instructions/{Instruction.objects.get().pk}/confirm/")
    assert Instruction.objects.get().confirmed_for == date(2026, 3, 23)


def test_two_corrections_at_once_show_both_versions(admin: Client, lead: Client, clinic: Fernhollow):
    episode = clinic.episode()
    address = f"/episodes/{episode.code}/correct/"
    page = admin.get(address)
    send(lead, address, suture="absorbable", stitches_in="")
    answer = send(admin, address, page=page, digit="index")
    assert answer.status_code == 409
    assert ("Suture", "absorbable stitches", "non-absorbable stitches") in answer.context["differences"]
    assert ("Finger", "ring finger", "index finger") in answer.context["differences"]
    episode.refresh_from_db()
    assert episode.digit == "ring"


def test_closing_does_everything_in_one_act(therapist: Client, clinic: Fernhollow):
    episode = clinic.episode()
    row = episode.follow_ups.get(key="stitches-out")
    send(therapist, f"/episodes/{episode.code}/appointments/new/?for={row.key}")
    answer = send(therapist, f"/episodes/{episode.code}/close/", how="transferred", received_by="Quayside Hand Clinic")
    assert answer.url == f"/episodes/{episode.code}/"
    episode.refresh_from_db()
    assert (episode.ended_on, episode.received_by) == (TODAY, "Quayside Hand Clinic")
    assert not episode.follow_ups.filter(state="due").exists()
    assert not episode.patient.appointments.filter(live=True).exists()
    assert "Record findings</a>" not in therapist.get(answer.url).content.decode()


@pytest.mark.parametrize(
    ("typed", "wrong"),
    [
        ({"how": "discharged"}, {"how": ["stitches-in"]}),
        ({"how": "transferred"}, {"received_by": ["receiver-missing"]}),
        ({"how": "died", "on": "tomorrow"}, {"on": ["closed-in-future"]}),
        ({}, {"how": ["required"]}),
    ],
)
def test_a_closing_that_would_leave_somebody_unsafe_is_refused(therapist: Client, clinic: Fernhollow, typed, wrong):
    assert errors(send(therapist, f"/episodes/{clinic.episode().code}/close/", **typed)) == wrong


def test_closing_what_was_changed_meanwhile_is_a_conflict(therapist: Client, clinic: Fernhollow):
    episode = clinic.episode()
    page = therapist.get(f"/episodes/{episode.code}/close/")
    episodes.correct(episode, by=by(clinic.lead), version=1, surgeon="Dr Wren")
    answer = send(therapist, f"/episodes/{episode.code}/close/", page=page, how="died")
    assert answer.status_code == 409
