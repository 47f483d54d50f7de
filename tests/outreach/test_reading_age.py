"""An eleven-year-old can read the sheet: grade six at most by two formulas, from memory (Kincaid et al. 1975; Smith and
Senter 1967). Headings, names and numbers are left out; an entry of a list counts as one sentence at least."""

import pytest

from caseload.outreach.plan_sheet_file import paper
from tests.outreach.cases import CASES, sheet_of
from tests.outreach.reading import grades, sentences, syllables

SPOKEN = {
    "temperature": 4, "appointment": 3, "discharge": 2, "passive": 2, "stretching": 2, "wound": 1, "prescribed": 2,
    "medicine": 3, "settle": 2, "altered": 2, "operation": 4, "pulse": 1, "closed": 1, "raised": 1, "gaping": 2,
}  # fmt: skip


@pytest.mark.parametrize("word", SPOKEN)
def test_syllables_are_counted_as_they_are_spoken(word):
    assert syllables(word) == SPOKEN[word]


def test_the_formulas_on_a_sentence_worked_by_hand():
    # 6 words, 6 syllables, 17 letters: 2.34 + 11.8 - 15.59 and 13.345 + 3 - 21.43.
    assert grades([["The", "cat", "sat", "on", "the", "mat"]]) == pytest.approx((-1.45, -5.085))


@pytest.mark.parametrize("case", CASES)
def test_a_sheet_is_read_at_the_age_of_eleven(clinic, case):
    said = sentences(paper(sheet_of(clinic, case)))
    assert max(grades(said)) <= 6
    assert max(len(words) for words in said) <= 18
    # Nor is it the short entries of lists alone that make it easy.
    assert max(grades([words for words in said if len(words) >= 5])) <= 6
