"""Whether two entries are one person (rules of the project; the slips are those that typing makes: common practice)."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from caseload.exchange.likeness import Likeness, PersonKey, Verdict, likeness, near_days, near_words, person_key
from caseload.parsing import Identifier, Scheme

BORN = date(1957, 6, 14)
NHS, OTHER_NHS = Identifier(Scheme.NHS, "9990000018", ""), Identifier(Scheme.NHS, "9990000026", "")
LOCAL, OTHER_LOCAL = Identifier(Scheme.HOSPITAL, "FH1", ""), Identifier(Scheme.HOSPITAL, "FH2", "")


def person(given="Marian", family="O'Brien", born_on=BORN, *numbers):
    return person_key(given, family, born_on, numbers)


def verdict(a: PersonKey, b: PersonKey) -> Verdict:
    assert likeness(a, b).verdict is likeness(b, a).verdict
    return likeness(a, b).verdict


@pytest.mark.parametrize(
    "a, b",
    [
        (person(), person("MARIAN", "O\u2019BRIEN")),
        (person("Zoë"), person("Zoe")),
        (person("M", "O'Brien", BORN, NHS), person("M", "O'Brien", BORN, NHS)),
        (person("M", "O'Brien", None, NHS), person("M", "O'Brien", BORN, NHS)),
        (person("M", "O'Brien", BORN, NHS, LOCAL), person("M", "O'Brien", BORN, NHS, OTHER_LOCAL)),
        (person("M", "O'Brien", BORN, NHS), person("M", "O'Brien", BORN, LOCAL)),
        (person("M", "O'Brien", BORN, NHS), person("M", "O'Brien", BORN)),
    ],
)
def test_same(a, b):
    assert verdict(a, b) is Verdict.SAME


@pytest.mark.parametrize(
    "a, b, reason",
    [
        (person("M", "Old", BORN, NHS), person("M", "New", BORN, NHS), "same NHS number under another name (M New)"),
        (
            person("M", "O", BORN, NHS),
            person("M", "O", date(1990, 1, 1), NHS),
            "with another birth date (Mon 1 Jan 1990)",
        ),
        (
            person("M", "O", BORN, LOCAL, NHS),
            person("M", "O", BORN, LOCAL, OTHER_NHS),
            "hospital number with another NHS",
        ),
        (person("M", "O", BORN, NHS), person("M", "O", BORN, OTHER_NHS), "birth date with another NHS number"),
        (person("M", "O", BORN, LOCAL), person("M", "O", BORN, OTHER_LOCAL), "birth date with another hospital number"),
        (person("M", "O", None), person("M", "O", BORN), "a birth date is missing"),
        (person(born_on=BORN), person(born_on=date(1957, 6, 15)), "nearly the same (Sat 15 Jun 1957)"),
        (person(), person("Marion"), "a name that is nearly the same (Marion Obrien)"),
        (person(), person("Marian", "O'Brian"), "nearly the same"),
        (person(), person("M"), "nearly the same"),
        (person("Ann", "Lee"), person("Lee", "Ann"), "nearly the same"),
    ],
)
def test_doubtful(a, b, reason):
    assert verdict(a, b) is Verdict.DOUBTFUL
    assert reason in likeness(a, b).reason


@pytest.mark.parametrize(
    "a, b",
    [
        (person(), person("Desmond", "Brackley")),
        (person(), person(born_on=date(1990, 1, 1))),
        (person(), person("Marion", "O'Brian")),
        (person(), person("Marion", "O'Brien", date(1957, 6, 15))),
        (person(born_on=None), person("Marion", "O'Brien", None)),
        (person("Marian", "O", BORN, NHS), person("Marion", "O", BORN, OTHER_NHS)),
        (person("M", "O", BORN, NHS), person("M", "O", date(1957, 6, 15), OTHER_NHS)),
    ],
)
def test_different(a, b):
    assert verdict(a, b) is Verdict.DIFFERENT


@pytest.mark.parametrize(
    "other, near",
    [
        (date(1957, 6, 15), True),
        (date(1975, 6, 14), True),
        (date(1957, 6, 24), True),
        (date(1967, 6, 14), True),
        (BORN, False),
        (date(1958, 6, 15), False),
        (date(1957, 7, 15), False),
        (date(1990, 1, 1), False),
    ],
)
def test_near_days(other, near):
    assert near_days(BORN, other) is near is near_days(other, BORN)


def test_day_and_month_exchanged_are_near():
    assert near_days(date(1950, 11, 12), date(1950, 12, 11))
    assert near_days(date(1950, 3, 10), date(1950, 10, 3))


@pytest.mark.parametrize(
    "a, b, near",
    [
        ("marian", "marion", True),
        ("marian", "mairan", True),
        ("marian", "maria", True),
        ("arian", "marian", True),
        ("marian", "mar", False),
        ("marian", "mrain", False),
        ("marian", "naria", False),
        ("marian", "nariam", False),
        ("abcd", "badc", False),
        ("m", "marian", True),
        ("m", "desmond", False),
        ("", "ab", False),
    ],
)
def test_near_words(a, b, near):
    assert near_words(a, b) is near is near_words(b, a)


PEOPLE = st.builds(
    person,
    st.sampled_from(["Ann", "Anne", "Lee", "A"]),
    st.sampled_from(["Lee", "Leigh", "Ann"]),
    st.sampled_from([None, BORN, date(1957, 6, 15), date(1990, 1, 1)]),
    st.sampled_from([None, NHS, OTHER_NHS, LOCAL]),
    st.sampled_from([None, LOCAL, OTHER_LOCAL]),
)


@given(a=PEOPLE, b=PEOPLE)
def test_likeness_is_symmetric_and_found_by_what_is_shared(a, b):
    found = verdict(a, b)
    shared = bool(a.numbers & b.numbers) or a.name == b.name or (a.born_on is not None and a.born_on == b.born_on)
    assert shared or found is Verdict.DIFFERENT


@given(a=PEOPLE)
def test_everybody_is_like_themselves(a):
    assert likeness(a, a).verdict is (Verdict.SAME if a.born_on or a.numbers else Verdict.DOUBTFUL)
    assert isinstance(likeness(a, a), Likeness)
