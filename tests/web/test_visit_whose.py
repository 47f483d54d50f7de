"""Visits of several digits, and of appointments: which digits a visit looks at, and what it keeps and meets."""

from datetime import date

import pytest
from django.test import Client

from caseload.models import Appointment, Episode, Visit
from tests.scenario import TODAY, Fernhollow
from tests.web.posting import errors, held
from tests.web.reading import read
from tests.web.visiting import ORDINARY, preview, record, said


@pytest.fixture
def episode(clinic: Fernhollow) -> Episode:
    return clinic.episode(clinic.patient(given="Nell", family="Harbour"))


@pytest.fixture
def address(episode: Episode) -> str:
    return f"/episodes/{episode.code}/visit/"


class TestSeveralDigits:
    @pytest.fixture
    def index(self, clinic: Fernhollow, episode: Episode) -> Episode:
        return clinic.episode(episode.patient, digit="index")

    def test_another_open_finger_is_offered(self, therapist: Client, index: Episode, address: str):
        text = therapist.get(address).content.decode()
        assert f'href="?also={index.code}">Add the right index finger</a>' in text

    def test_both_are_saved_in_one_visit(self, therapist: Client, index: Episode, episode: Episode, address: str):
        answer = record(
            therapist, f"{address}?also={index.code}", **ORDINARY, d2_stitches_out="2", d2_stitches_left="2",
            d2_wound="not-closed", d2_after="review", d2_in_days="3",
        )  # fmt: skip
        assert answer.status_code == 302, errors(answer)
        assert [row.episode for row in Visit.objects.get().examined.all()] == [episode, index]

    def test_what_is_of_the_hand_is_asked_once(self, therapist: Client, index: Episode, address: str):
        asked = set(therapist.get(f"{address}?also={index.code}").context["form"].fields)
        assert {"d1_grip_1", "d1_swelling_cm", "d2_pain", "d2_mcp_flexion"} <= asked
        assert not asked & {"d2_grip_1", "d2_swelling_cm"}

    def test_a_refusal_names_its_digit(self, therapist: Client, index: Episode, address: str):
        answer = preview(therapist, f"{address}?also={index.code}", **ORDINARY, d2_stitches_out="3", d2_wound="closed",
                         d2_stitches_left="0", d2_after="continue")  # fmt: skip
        assert errors(answer) == {"d2_confirmed_full": ["count-unconfirmed"]}
        assert "Right index finger, I looked again: none are left" in answer.content.decode()

    def test_fingers_that_are_others_than_shown_are_not_saved(self, therapist: Client, index: Episode, address: str):
        page = therapist.get(f"{address}?also={index.code}")
        answer = therapist.post(f"/episodes/{index.code}/visit/", held(page.context["form"]) | ORDINARY)
        assert errors(answer)["__all__"] == ["other-fingers"] and not Visit.objects.exists()

    @pytest.mark.parametrize("code", ["", "x", "x" * 500, "\x00", "Ä"])
    def test_nonsense_beside_it_is_a_sentence(self, therapist: Client, address: str, code: str):
        assert therapist.get(address, {"also": code}).status_code == 409

    def test_somebody_else_is_not_added(self, therapist: Client, clinic: Fernhollow, address: str):
        answer = therapist.get(address, {"also": clinic.episode().code})
        assert answer.status_code == 409 and "another patient" in answer.content.decode()


class TestAppointments:
    @pytest.fixture
    def booked(self, clinic: Fernhollow, episode: Episode) -> Appointment:
        return clinic.book([episode.follow_ups.get(key="stitches-out")], TODAY)

    def test_its_visit_records_it_as_attended(self, therapist: Client, booked: Appointment):
        answer = record(therapist, f"/appointments/{booked.code}/visit/", **ORDINARY)
        assert answer.status_code == 302, errors(answer)
        booked.refresh_from_db()
        assert booked.outcome == "attended" and booked.visit == Visit.objects.get()

    def test_the_one_of_today_is_found_by_itself(self, therapist: Client, booked: Appointment, address: str):
        page = therapist.get(address)
        assert "for the one at Wed 1 Apr 2026, 10:20" in read(page)
        assert page.context["form"]["appointment"].value() == booked.code
        record(therapist, address, **ORDINARY)
        booked.refresh_from_db()
        assert booked.outcome == "attended"

    def test_one_that_is_not_needed_any_more_is_told_before_saving(self, therapist: Client, booked, address: str):
        page = preview(therapist, address, **ORDINARY, appointment="")
        assert any("is not needed any more" in line for line in said(page))

    def test_a_second_visit_of_it_leads_to_the_first(self, therapist: Client, booked: Appointment):
        address = f"/appointments/{booked.code}/visit/"
        first = record(therapist, address, **ORDINARY)
        assert therapist.get(address).url == first.url
        typed = therapist.post(address, {"on": "today"})
        assert typed.status_code == 409 and first.url in typed.content.decode()

    def test_one_to_come_has_no_visit_yet(self, therapist: Client, clinic: Fernhollow, episode: Episode):
        later = clinic.book([episode.follow_ups.get(key="stitches-out")], date(2026, 4, 2))
        assert therapist.get(f"/appointments/{later.code}/visit/").status_code == 409

    def test_what_an_appointment_is_not_for_is_offered_and_not_ticked(self, therapist: Client, clinic: Fernhollow):
        episode = clinic.episode(surgery_on=date(2026, 2, 20), today=date(2026, 2, 20))
        booked = clinic.book([episode.follow_ups.get(key="stitches-out")], TODAY)
        form = therapist.get(f"/appointments/{booked.code}/visit/").context["form"]
        assert not form["meets"].value()
        assert f"{episode.code}/outcome-review" in dict(form.fields["meets"].choices)

    def test_a_walk_in_meets_what_is_ticked(self, therapist: Client, clinic: Fernhollow):
        episode = clinic.episode(surgery_on=date(2026, 2, 20), today=date(2026, 2, 20))
        address = f"/episodes/{episode.code}/visit/"
        name = f"{episode.code}/outcome-review"
        assert name in therapist.get(address).context["form"]["meets"].value()
        assert record(therapist, address, **ORDINARY).status_code == 302
        assert episode.follow_ups.get(key="outcome-review").done_on == TODAY
        assert Appointment.objects.get().walk_in
