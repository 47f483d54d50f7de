"""Digests and their one form against what was published of them."""

import json
from hashlib import sha256

import pytest
from hypothesis import given
from hypothesis import strategies as st

from caseload.exchange.seals import FIRST, canonical, digest_of, digest_of_block, keys_in, spans_of


@pytest.mark.parametrize(
    ("said", "digest"),
    [
        (b"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
        (b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
        (
            b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
        ),
        (b"a" * 1_000_000, "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"),
    ],
)
def test_the_examples_of_the_secure_hash_standard(said, digest):
    """The examples that NIST publishes for SHA-256 (FIPS 180-4; FIPS 180-2, appendix B), from memory."""
    assert sha256(said).hexdigest() == digest


def test_the_example_of_the_canonical_form():
    """RFC 8785, section 3.2.2 and its result in 3.2.4, from memory."""
    given_there = r"""{
      "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
      "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
      "literals": [null, true, false]
    }"""
    assert canonical(json.loads(given_there)) == (
        '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
        '"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
    )


def test_names_are_in_the_order_of_their_utf_16_code_units():
    """RFC 8785, section 3.2.3, from memory: the smiling face, beyond the first plane, comes before U+FB33."""
    names = ["\u20ac", "\r", "\ufb33", "1", "\U0001f600", "\u0080", "\u00f6"]
    ordered = list(json.loads(canonical(dict.fromkeys(names, 0))))
    assert ordered == ["\r", "1", "\u0080", "\u00f6", "\u20ac", "\U0001f600", "\ufb33"]


@pytest.mark.parametrize(
    ("number", "said"),
    [
        (0.0, "0"), (-0.0, "0"), (5e-324, "5e-324"), (-5e-324, "-5e-324"),
        (1.7976931348623157e308, "1.7976931348623157e+308"), (9007199254740992.0, "9007199254740992"),
        (295147905179352830000.0, "295147905179352830000"), (9.999999999999997e22, "9.999999999999997e+22"),
        (1e23, "1e+23"), (1.0000000000000001e23, "1.0000000000000001e+23"),
        (999999999999999700000.0, "999999999999999700000"), (999999999999999900000.0, "999999999999999900000"),
        (1e21, "1e+21"), (9.999999999999997e-7, "9.999999999999997e-7"), (0.000001, "0.000001"),
        (333333333.33333325, "333333333.33333325"), (-0.0000033333333333333333, "-0.0000033333333333333333"),
        (1424953923781206.2, "1424953923781206.2"),
    ],
)  # fmt: skip
def test_numbers_as_the_standard_writes_them(number, said):
    """RFC 8785, appendix B, from memory."""
    assert canonical(number) == said


@given(st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53), 2**53) | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=["Cs"])),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(st.characters(exclude_categories=["Cs"])), inner),
))  # fmt: skip
def test_what_is_written_reads_as_the_same_and_is_written_the_same_again(value):
    """Numbers are doubles to the RFC: so are they read."""
    read = json.loads(canonical(value), parse_int=float)
    assert read == value and canonical(read) == canonical(value)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf")])
def test_what_json_cannot_hold_has_no_form(value):
    with pytest.raises(ValueError, match="no such number"):
        canonical(value)
    with pytest.raises(TypeError, match="set is no JSON"):
        canonical({1, 2})


def test_a_block_has_another_digest_where_its_heading_or_a_row_is_another():
    rows = [digest_of({"id": key}) for key in (1, 2)]
    block = digest_of_block({"before": FIRST}, rows)
    others = [digest_of_block({"before": block}, rows), digest_of_block({"before": FIRST}, rows[::-1])]
    assert len({block, *others, digest_of_block({"before": FIRST}, rows[:1])}) == 4


@given(st.sets(st.integers(1, 60)).map(sorted))
def test_spans_hold_every_key_once_and_no_two_touch(keys):
    spans = spans_of(keys)
    assert list(keys_in(spans)) == keys
    assert all(later - earlier > 1 for (_, earlier), (later, _) in zip(spans, spans[1:], strict=False))
