"""Every caution of the trade stands on every sheet: common practice, word for word."""

import pytest

from caseload.outreach.plan_sheet_file import paper
from tests.outreach.cases import CASES, sheet_of
from tests.outreach.reading import text_of

ALWAYS = (
    "temperature above 38", "discharge on the dressing that is new or has changed colour",
    "pain that is strong or growing", "chest pain", "trouble breathing", "fast pulse", "faint", "giddy",
    "spreading redness", "finger held bent and painful to straighten", "new numbness", "cold or blue finger",
    "gaping wound", "Get medical help at once", "What your treating team told you comes first",
    "Ring Fernhollow on 01632 960100",
    "Altered feeling round the wound and soreness usually settle within some weeks",
    "Pain medicine: only as prescribed",
)  # fmt: skip
WHILE_OPEN = (
    "Until the wound has closed", "No heavy lifting", "No tight gripping", "No passive stretching",
    "Keep the dressing clean and dry",
)  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_no_caution_is_missing(clinic, case):
    said = text_of(paper(sheet_of(clinic, case)))
    wanted = ALWAYS if case == "closed" else ALWAYS + WHILE_OPEN
    assert [caution for caution in wanted if caution not in said] == []


def test_what_holds_until_the_wound_has_closed_goes_once_it_is_recorded(clinic):
    said = text_of(paper(sheet_of(clinic, "closed")))
    assert not [caution for caution in WHILE_OPEN if caution in said]


def test_without_a_telephone_it_says_to_ring_the_clinic_of_the_operation(clinic):
    type(clinic.site).objects.filter(pk=clinic.site.pk).update(telephone="")
    clinic.site.refresh_from_db()
    said = text_of(paper(sheet_of(clinic, "stitched")))
    assert "Ring the clinic where the hand was operated on." in said
