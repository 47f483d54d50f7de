"""Reading JSON objects strictly: each refusal names the place and says what would be right."""

from datetime import date
from typing import Any

import pytest

from caseload.errors import Refusal
from caseload.timetable.fields import Fields, read_day, shown
from caseload.timetable.terms import Side

KNOWN = frozenset({"on", "count", "sure", "name", "side", "sides", "list"})


def fields(where: str = "here", **body: Any) -> Fields:
    return Fields(body, KNOWN, where)


def refused(read: Any, *arguments: Any) -> str:
    with pytest.raises(Refusal) as refusal:
        read(*arguments)
    assert refusal.value.code == "unreadable"
    return refusal.value.message


def test_what_is_not_an_object_is_refused() -> None:
    assert refused(Fields, [1], KNOWN, "x") == 'x: [1] is not an object; write it in braces, as {"name": value}.'


def test_an_unknown_field_is_refused_with_the_known_ones() -> None:
    message = refused(Fields, {"so": 1, "of": 2}, frozenset({"on", "by"}), "x")
    assert message == "x.of: there is no such field; the fields are by, on."


def test_a_place_without_a_parent_is_the_name_alone() -> None:
    assert fields("").place("on") == "on" and fields("a").place("on") == "a.on"


def test_a_missing_field_is_refused() -> None:
    assert refused(fields().day, "on") == "here.on: it is missing; give a day such as 2026-04-01."
    assert refused(fields().whole, "count", 1, 5) == "here.count: it is missing; give a whole number from 1 to 5."
    assert refused(fields().text, "name") == "here.name: it is missing; give a text in quotation marks."
    assert refused(fields().word, "side", Side) == "here.side: it is missing; give one of left, right."


def test_an_absent_or_null_field_takes_the_default() -> None:
    for one in (fields(), fields(on=None, count=None, sure=None, name=None, side=None, list=None)):
        assert one.day_or("on", None) is None and one.whole_or("count", 7, 1, 5) == 7
        assert one.text_or("name", "x") == "x" and one.word_or("side", Side, Side.LEFT) is Side.LEFT
        assert one.flag("sure") is False and one.flag("sure", default=True) is True
        assert one.each("list", lambda item, where: item) == () and one.words("sides", Side) == ()


def test_present_is_more_than_null() -> None:
    assert fields(on=None).has("on") and "on" not in fields(on=None)
    assert not fields().has("on") and "on" in fields(on=0)


@pytest.mark.parametrize(
    "on", ["2026-02-30", "20260401", "2026-W14-3", "1/4/2026", "2101-01-01", "1899-12-31", 20260401, ""]
)
def test_a_day_that_is_no_day_is_refused(on: object) -> None:
    message = refused(fields(on=on).day, "on")
    assert message == f"here.on: {shown(on)} is not a day from 1900 to 2100; give one that exists, such as 2026-04-01."


@pytest.mark.parametrize("on", ["1900-01-01", "2100-12-31", "2024-02-29"])
def test_a_day_is_read(on: str) -> None:
    assert fields(on=on).day("on") == date.fromisoformat(on) == read_day(on)


@pytest.mark.parametrize("count", [0, 6, True, 2.0, "2"])
def test_a_number_out_of_range_or_of_another_kind_is_refused(count: object) -> None:
    message = refused(fields(count=count).whole, "count", 1, 5)
    assert message == f"here.count: {shown(count)} is not right; give a whole number from 1 to 5."


@pytest.mark.parametrize("count", [1, 5])
def test_a_number_may_be_either_limit(count: int) -> None:
    assert fields(count=count).whole("count", 1, 5) == count


def test_a_flag_is_true_or_false() -> None:
    assert fields(sure=True).flag("sure") is True and fields(sure=False).flag("sure", default=True) is False
    assert refused(fields(sure=1).flag, "sure") == "here.sure: 1 is neither true nor false; give true or false."


def test_a_text_is_a_text() -> None:
    assert fields(name="x").text("name") == "x"
    assert refused(fields(name=4).text, "name") == "here.name: 4 is not a text; give a text in quotation marks."


@pytest.mark.parametrize("side", ["Left", "", 4, ["left"]])
def test_a_word_is_one_of_the_trade(side: object) -> None:
    message = refused(fields(side=side).word, "side", Side)
    assert message == f"here.side: {shown(side)} is not known here; give one of left, right."


def test_words_are_read_with_their_place() -> None:
    assert fields(sides=["left", "right"]).words("sides", Side) == (Side.LEFT, Side.RIGHT)
    assert refused(fields(sides=["left", "up"]).words, "sides", Side).startswith("here.sides[1]: “up” is not known")


def test_a_list_is_a_list() -> None:
    assert refused(fields(list={}).each, "list", print) == "here.list: {} is not a list; write it in square brackets."
    assert fields(list=[3, 4]).each("list", lambda item, where: (item, where)) == (
        (3, "here.list[0]"),
        (4, "here.list[1]"),
    )


def test_a_day_before_another_is_refused() -> None:
    one = fields(on="2026-04-01")
    one.not_before("on", date(2026, 4, 1), "the finding")
    fields().not_before("on", date(2026, 4, 1), "the finding")
    message = refused(one.not_before, "on", date(2026, 4, 2), "the finding")
    assert message == "here.on: 2026-04-01 is before the finding of 2026-04-02; correct one of them."


@pytest.mark.parametrize(
    ("value", "said"), [(None, "null"), (True, "true"), (False, "false"), (1, "1"), (0, "0"), ("a", "“a”")]
)
def test_a_value_is_quoted_as_json_has_it(value: object, said: str) -> None:
    assert shown(value) == said


def test_a_long_value_is_shortened() -> None:
    assert shown("x" * 38) == f"“{'x' * 38}”" and shown("x" * 39) == f"“{'x' * 38}…"


def test_at_the_top_there_is_no_place_to_name() -> None:
    assert refused(Fields, 4, KNOWN) == '4 is not an object; write it in braces, as {"name": value}.'
