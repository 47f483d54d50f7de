"""The page of a visit: what it asks, what it shows before saving, what it saves, and what it refuses."""

from datetime import date

import pytest
from django.test import Client

from caseload.models import Episode, Examined, FollowUp, Visit
from tests.scenario import TODAY, Fernhollow
from tests.web.posting import errors
from tests.web.visiting import preview, record

ORDINARY = {"d1_stitches_out": "4", "d1_stitches_left": "0", "d1_wound": "closed", "d1_after": "continue"}


@pytest.fixture
def episode(clinic: Fernhollow) -> Episode:
    return clinic.episode(clinic.patient(given="Nell", family="Harbour"))


@pytest.fixture
def address(episode: Episode) -> str:
    return f"/episodes/{episode.code}/visit/"


def found(episode: Episode) -> list[tuple[str, str]]:
    return [(row.kind, row.wound) for row in episode.findings.order_by("id")]


def test_nothing_is_saved_before_it_was_shown(therapist: Client, episode: Episode, address: str):
    page = preview(therapist, address, **ORDINARY)
    said = [line.text for told in page.context["changes"] for line in told.lines]
    assert "Stitches out: done, Wed 1 Apr 2026" in said and "Scar massage: unlocked" in said
    assert found(episode) == [] and not Visit.objects.exists()


def test_what_was_shown_is_saved_by_the_second_press(therapist: Client, episode: Episode, address: str):
    answer = record(therapist, address, **ORDINARY)
    assert answer.status_code == 302, errors(answer)
    assert found(episode) == [("stitches", ""), ("wound", "closed")]
    assert FollowUp.objects.get(episode=episode, key="stitches-out").done_on == TODAY
    assert Examined.objects.get().after == "continue"


def test_the_next_step_is_never_chosen_beforehand(therapist: Client, address: str):
    assert therapist.get(address).context["form"]["d1_after"].value() is None
    assert errors(preview(therapist, address, d1_wound="closed")) == {"d1_after": ["required"]}


def test_a_typed_day_is_read_day_first(therapist: Client, episode: Episode, address: str):
    record(therapist, address, on="31/3/26", d1_wound="closed", d1_after="continue")
    assert episode.findings.get().on == date(2026, 3, 31)
