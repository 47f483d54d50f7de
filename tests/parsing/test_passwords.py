"""Which passwords may be chosen."""

import pytest

from caseload.errors import Refusal
from caseload.parsing.passwords import is_short, refuse_unfit

COMMON = frozenset({"monday", "qwertyuiop", "correcthorsebatterystaple", "iloveyou"})
OWN = ("Fernhollow", "Quay Street", "Thea Marsh", "thea", "thea@example.org")


def code(password: str, *, second_factor: bool = False) -> str:
    try:
        refuse_unfit(password, second_factor=second_factor, common=COMMON, own=OWN)
    except Refusal as refusal:
        return refusal.code
    return ""


# NIST SP 800-63B-4 (2025), 3.1.1.2: 15 characters alone, 8 as a part of two factors; 64 at least have to be taken,
# and any character, spaces and Unicode among them. OWASP ASVS 5.0, 6.2.9 asks for 64 too; here 1,000 are.
@pytest.mark.parametrize(
    ("password", "second_factor", "refused"),
    [
        ("kettle moss 27", False, "password-short"),
        ("kettle moss 273", False, ""),
        ("kettle", True, "password-short"),
        ("kettle m", True, ""),
        ("é" * 7 + "ü" * 7, False, "password-short"),
        ("éèêëąęįųūžščñøæ", False, ""),
        ("kettle moss 27 " * 4 + "lamp", False, ""),
        ("The kettle sings. " * 7 + "It is 128.", False, ""),
        ("kettle moss " + "ab" * 494, False, ""),
        ("kettle moss " + "ab" * 494 + "c", False, "password-long"),
    ],
)
def test_length_counts_characters_and_is_all_that_is_asked(password, second_factor, refused):
    assert code(password, second_factor=second_factor) == refused


@pytest.mark.parametrize(
    "password",
    [
        "Correcthorsebatterystaple", "qwertyuiop12345678", "!!iloveyou2026!!!", "mondaymondaymonday",
        "abcabcabcabcabcabc", "aaaaaaaaaaaaaaaa",
    ],
)  # fmt: skip
def test_common_ones_are_refused_also_with_figures_around_them_or_said_again(password):
    assert code(password) == "password-common"


@pytest.mark.parametrize("password", ["fernhollow planner 1", "Thea Marsh, Quay Street", "hand clinic fernhollow!"])
def test_what_is_made_of_words_of_the_service_or_the_person_is_refused(password):
    assert code(password) == "password-expected"


def test_such_a_word_beside_enough_others_does_no_harm():
    assert code("thea waters three ferns") == ""


def test_a_refusal_names_the_words_that_anybody_would_try():
    with pytest.raises(Refusal, match="“fernhollow”, “planner”"):
        refuse_unfit("fernhollow planner 1", second_factor=True, common=COMMON, own=OWN)


def test_short_is_what_needs_a_second_factor():
    assert is_short("x" * 14) and not is_short("x" * 15)
