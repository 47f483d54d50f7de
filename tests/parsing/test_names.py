import pytest
from hypothesis import given
from hypothesis import strategies as st

from caseload.errors import Refusal
from caseload.parsing import read_name, search_key, split_name


@pytest.mark.parametrize(
    "names, key",
    [
        (("Séan", "O\u2019Brien"), "sean obrien"),
        (("O'Brien",), "obrien"),
        (("O`Brien",), "obrien"),
        (("Anne-Marie", "Smith Jones"), "anne marie smith jones"),
        (("Łukasz", "Ørsted"), "lukasz orsted"),
        (("STRASSE",), "strasse"),
        (("Straße",), "strasse"),
        (("Zoe\u0308",), "zoe"),
        (("Zoë",), "zoe"),
        (("\ufb01nn",), "finn"),
        (("  St.  John ",), "st john"),
        (("李", "小龙"), "李 小龙"),
        (("",), ""),
    ],
)
def test_the_form_in_which_names_are_compared(names, key):
    assert search_key(*names) == key


@given(name=st.text("abcxyzABCéößØłñÅ' -\u2019", max_size=20))
def test_the_form_of_a_form_is_itself(name):
    key = search_key(name)
    assert search_key(key) == key
    assert search_key(name.upper()) == search_key(name.lower())


@pytest.mark.parametrize("text", ["Smith", "O'Brien", "van der Berg", "Smith-Jones", "de la Peña (née Ruiz)", "J."])
def test_a_name_is_kept_as_typed(text):
    assert read_name(text) == text


@pytest.mark.parametrize(
    "text, code",
    [("", "name-missing"), (" - ", "name-missing"), ("Smith2", "name-not-a-name"), ("<b>", "name-not-a-name"),
     ("a@example.org", "name-not-a-name"), ("x" * 81, "name-too-long"), ("Sm\x07ith", "control-character")],
)  # fmt: skip
def test_no_name(text, code, refusal):
    assert refusal(read_name, text).code == code


@pytest.mark.parametrize(
    "text, split",
    [
        ("SMITH, John", ("John", "SMITH")),
        ("Smith, John Paul", ("John Paul", "Smith")),
        ("Smith, Mr. John", ("John", "Smith")),
        ("John SMITH", ("John", "SMITH")),
        ("SMITH John (Mr)", ("John", "SMITH")),
        ("Mary Ann SMITH JONES", ("Mary Ann", "SMITH JONES")),
        ("VAN DYK Anna", ("Anna", "VAN DYK")),
        ("J SMITH", ("J", "SMITH")),
    ],
)
def test_a_comma_or_capitals_settle_the_order(text, split):
    assert split_name(text) == (*split, True)


def test_a_stated_order_settles_two_words():
    assert split_name("Smith John", family_first=True) == ("John", "Smith", True)
    assert split_name("John Smith", family_first=False) == ("John", "Smith", True)


@pytest.mark.parametrize(
    "text, order, split",
    [
        ("John Smith", None, ("John", "Smith")),
        ("JOHN SMITH", None, ("JOHN", "SMITH")),
        ("SMITH John JONES", None, ("SMITH John", "JONES")),
        ("Anna van Dyk", False, ("Anna van", "Dyk")),
        ("Dyk Anna Maria", True, ("Anna Maria", "Dyk")),
    ],
)
def test_what_nothing_settles_is_not_certain(text, order, split):
    assert split_name(text, family_first=order) == (*split, False)


@pytest.mark.parametrize(
    "text, code",
    [("Smith", "name-one-word"), ("", "name-one-word"), ("Mr Smith", "name-one-word"), ("Smith,", "name-missing")],
)
def test_half_a_name_is_refused(text, code, refusal):
    assert refusal(split_name, text).code == code


WORDS = st.from_regex(r"[A-Z][a-z]{1,8}(-[A-Z][a-z]{1,6})?", fullmatch=True)


@given(given=WORDS, family=WORDS)
def test_a_name_with_a_comma_reads_back(given, family):
    assert split_name(f"{family.upper()}, {given}") == (given, family.upper(), True)


@given(text=st.text(max_size=30))
def test_any_text_is_read_or_refused(text):
    for read in (read_name, split_name):
        try:
            read(text)
        except Refusal as refusal:
            assert refusal.message
