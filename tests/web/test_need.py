"""The page of need and room: the lead's only, in words that add up, and a session that is only tried out."""

import pytest
from django.test import Client

from caseload.models import Session
from tests.scenario import Fernhollow
from tests.web.reading import read

pytestmark = pytest.mark.django_db


def shown(client: Client, asked: str = "") -> str:
    return read(client.get(f"/need/{asked}"))


def test_only_a_lead_sees_it(lead: Client, admin: Client, clinic: Fernhollow):
    assert lead.get("/need/").status_code == 200
    assert admin.get("/need/").status_code == 403


def test_what_finds_no_place_is_said_with_why_and_where_to_book_it(lead: Client, clinic: Fernhollow):
    clinic.episode(for_therapy=False)
    page = shown(lead)
    assert "2 visits that are known already find no place by their last day. The worst week is that from" in page
    assert f"?kind=stitches-out&amp;site={clinic.site.code}" in page and "takes them" in page


def test_where_all_fits_it_says_so(lead: Client, clinic: Fernhollow):
    assert "All that is known finds a place, and all that is to be expected." in shown(lead)


def test_one_more_session_is_tried_out_and_not_written(lead: Client, clinic: Fernhollow):
    clinic.episode(for_therapy=False)
    page = shown(lead, f"?site={clinic.site.code}&on=2+apr&slots=3&kind=stitches-out")
    assert "A session on Thu 2 Apr 2026 would place 1 of the 3 visits that find no place." in page
    assert "Fernhollow, 1 h, Stitches out" in page
    assert "The week from Thu 2 Apr 2026 would be short no more." in page
    assert not Session.objects.exists()


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ("on=soon", "soon"),
        ("on=1+jan+2030", "Give one of the days shown here."),
        ("on=2+apr&slots=x", "x"),
        ("on=", "This is needed."),
    ],
)
def test_what_cannot_be_tried_out_is_said_beside_its_field(lead: Client, clinic: Fernhollow, asked: str, said: str):
    page = shown(lead, f"?site={clinic.site.code}&slots=3&{asked}")
    assert said in page and "would place" not in page


def test_a_session_for_another_kind_of_visit_places_nobody_nothing_here(lead: Client, clinic: Fernhollow):
    clinic.episode(for_therapy=False)
    page = shown(lead, f"?site={clinic.site.code}&on=2+apr&slots=3&kind=wound-check")
    assert "would place nobody more" in page


def test_a_day_at_the_other_site_changes_nothing_here(lead: Client, clinic: Fernhollow):
    clinic.episode(for_therapy=False)
    page = shown(lead, f"?site={clinic.quay.code}&on=2+apr&slots=3")
    assert "would place nobody more" in page
