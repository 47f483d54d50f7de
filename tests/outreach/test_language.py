"""Another language can take the sheet over whole: every sentence and every date of it."""

import pytest
from django.utils import translation

from caseload.outreach.plan_sheet_file import paper
from tests.outreach import pseudo
from tests.outreach.cases import CASES, sheet_of
from tests.outreach.reading import WORD, text_of

OWN_WORDS = {"Fernhollow", "Surgeon"}


@pytest.fixture(autouse=True)
def languages(monkeypatch):
    pseudo.install(monkeypatch)


@pytest.mark.parametrize("case", CASES)
def test_no_sentence_stays_untranslated(clinic, case):
    with translation.override("xb"):
        page = paper(sheet_of(clinic, case))
    assert '<html lang="xb">' in page
    assert set(WORD.findall(pseudo.outside(text_of(page)))) <= OWN_WORDS


def test_dates_are_said_by_the_formats_of_the_language(clinic):
    with translation.override("de"):
        page = text_of(paper(sheet_of(clinic, "stitched")))
    assert "Donnerstag 2. April 2026" in page and "9. April" in page
