"""Suture materials. Source: table A4 of the project's check values (supplier tables suturex.us and mrotte.com for
polyglactin, poliglecaprone, polydioxanone, gut, nylon, polypropylene and silk; steel, polyester and glue from memory).
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from caseload.errors import Refusal
from caseload.parsing import read_suture
from caseload.timetable.terms import Suture

A4 = {
    Suture.NON_ABSORBABLE: ["nylon", "polypropylene", "silk", "steel", "polyester"],
    Suture.ABSORBABLE: [
        *("fast-absorbing gut", "plain gut", "chromic gut", "polyglactin 910", "rapid polyglactin 910"),
        *("poliglecaprone 25", "undyed poliglecaprone 25", "polydioxanone"),
    ],
    Suture.NONE: ["cyanoacrylate", "glue", "strips", "skin glue and paper strips"],
}
MATERIALS = [(material, suture) for suture, materials in A4.items() for material in materials]


@pytest.mark.parametrize("material, suture", MATERIALS)
def test_a_material_gives_its_class_and_is_kept(material, suture):
    assert read_suture(material) == (suture, material)


@pytest.mark.parametrize("text", ["4/0 Nylon", "5-0 nylon", "Nylon 4.0", "nylon 4/0 interrupted", "nylon + strips"])
def test_sizes_and_manners_of_sewing_change_nothing(text):
    assert read_suture(text) == (Suture.NON_ABSORBABLE, text)


@pytest.mark.parametrize(
    "text, suture",
    [
        ("non-absorbable", Suture.NON_ABSORBABLE),
        ("Non absorbable", Suture.NON_ABSORBABLE),
        ("NON - ABSORBABLE", Suture.NON_ABSORBABLE),
        ("absorbable", Suture.ABSORBABLE),
        ("Dissolvable.", Suture.ABSORBABLE),
        ("absorbable sutures", Suture.ABSORBABLE),
        ("none", Suture.NONE),
        ("no stitches", Suture.NONE),
        ("", Suture.UNKNOWN),
        ("?", Suture.UNKNOWN),
        ("-", Suture.UNKNOWN),
        ("not known", Suture.UNKNOWN),
    ],
)
def test_a_class_without_a_material(text, suture):
    assert read_suture(text) == (suture, "")


@pytest.mark.parametrize(
    "text", ["staples", "no nylon", "nylon?", "n/a", "stitches", "none nylon", "waxed thread", "4/0"]
)
def test_a_word_that_is_not_known_is_refused_never_guessed(text, refusal):
    refused = refusal(read_suture, text)
    assert refused.code == "suture-unknown-word"
    assert "polyglactin" in refused.message


@pytest.mark.parametrize("text", ["nylon and gut", "absorbable nylon", "polyglactin, silk"])
def test_two_classes_are_refused(text, refusal):
    assert refusal(read_suture, text).code == "suture-both"


def test_a_material_is_kept_up_to_sixty_characters(refusal):
    assert refusal(read_suture, "nylon " + "interrupted " * 6).code == "text-too-long"


@given(text=st.text(max_size=30))
def test_any_text_is_read_or_refused(text):
    try:
        read_suture(text)
    except Refusal as refusal:
        assert refusal.message


@pytest.mark.parametrize("material, suture", MATERIALS)
@given(word=st.text("abcdefghijklmnopqrstuvwxyz", min_size=7, max_size=12))
def test_a_strange_word_beside_a_material_never_makes_another_class(material, suture, word):
    try:
        read = read_suture(f"{material} {word}").suture
    except Refusal as refusal:
        assert refusal.code in {"suture-unknown-word", "suture-both"}
    else:
        assert read is suture or (suture is Suture.NONE and read is read_suture(word).suture)
