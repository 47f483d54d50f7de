"""Any list of waits as columns: what is read, and each thing that is refused, in words."""

from collections.abc import Callable
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from caseload.errors import Refusal
from caseload.exchange.delimited import read_lines
from caseload.exchange.waits_list import MOST_GROUPS, MOST_WORDS, WaitsList, read_waits

TODAY = date(2026, 4, 30)
One = tuple[int, str, int, int]


def read(*lines: str, header: str = "days,ended", group: str = "", today: date | None = TODAY) -> WaitsList:
    return read_waits("\n".join([header, *lines]).encode(), group=group, today=today)


def ones(listed: WaitsList) -> list[One]:
    """(days, how it ended, entered, number) of each kind."""
    days, ended, entered, number, words = listed.waits
    return [
        (*each[:1], words[each[1]], *each[2:]) for each in zip(*map(list, (days, ended, entered, number)), strict=True)
    ]


def why(*lines: str, **asked: object) -> str:
    ((_, said),) = read(*lines, **asked).refused  # type: ignore[arg-type]
    return said


DATED = "start_on,stop_on,ended"


def test_days_and_how_they_ended() -> None:
    assert ones(read("3,seen", "4,waiting", "5,died")) == [(3, "seen", 0, 1), (4, "waiting", 0, 1), (5, "died", 0, 1)]


def test_alike_waits_are_counted_together() -> None:
    assert ones(read("3,seen", "3,seen", " 3 , SEEN ", "3.0,seen")) == [(3, "seen", 0, 4)]


def test_dates_become_days_and_open_waits_last_until_today() -> None:
    listed = read("2026-04-01,2026-04-13,seen", "2026-04-20,,waiting", "2026-04-30,,waiting", header=DATED)
    assert ones(listed) == [(12, "seen", 0, 1), (10, "waiting", 0, 1), (0, "waiting", 0, 1)]


def test_without_open_waits_today_is_not_needed() -> None:
    assert ones(read("2026-04-01,2026-04-01,seen", header=DATED, today=None)) == [(0, "seen", 0, 1)]


def test_days_already_waited() -> None:
    assert ones(read("9,seen,4", "9,seen,", "9,seen", header="days,ended,entered")) == [
        (9, "seen", 4, 1),
        (9, "seen", 0, 2),
    ]


def test_other_words_are_kept_as_they_are_written() -> None:
    assert read("1,Moved away", "1,Seen", "1,Waiting").waits.words == ("waiting", "seen", "Moved away")


def test_days_count_where_dates_are_there_too() -> None:
    assert ones(read("7,soon,,seen", header="days,start_on,stop_on,ended")) == [(7, "seen", 0, 1)]


def test_groups_in_the_order_of_their_names() -> None:
    listed = read("3,seen,west", "4,seen,east", "5,seen,west", "x,seen,north", header="days,ended,Site", group="site")
    assert {value: waits.days.tolist() for value, waits in listed.groups.items()} == {"east": [4], "west": [3, 5]}
    assert list(listed.groups) == ["east", "west"]


def test_a_group_column_is_found_as_it_is_written_first() -> None:
    header = "days,ended,SITE,Site"
    assert list(read("3,seen,a,b", header=header, group="Site").groups) == ["b"]
    assert list(read("3,seen,a,b", header=header, group="site").groups) == ["a"]


@pytest.mark.parametrize(
    "data",
    [
        b"\xef\xbb\xbfdays,ended,note\n3,seen,x\n",
        b"note;days;ended\r\nx;3;seen\r\n",
        b"Days\tENDED\tnote\r3\tseen\t\r",
        "\ufeffdays,ended,note\n3,seen,\n".encode("utf-16-le"),
        b'\n,,\ndays,ended,note\n\n  ,\n,,,\n3,seen,"two\nlines"\n\n',
        b"days,ended,note\n3,seen\n",
        b"days,ended\n3,seen,,\n",
    ],
)
def test_the_forms_that_lists_come_in(data: bytes) -> None:
    assert ones(read_waits(data)) == [(3, "seen", 0, 1)] and read_waits(data).refused == ()


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("-3,seen", "days: “-3” is not a whole number of days from 0 to 100000; give one such as 12."),
        ("soon,seen", "days: “soon” is not a whole number"),
        ("3.5,seen", "days: “3.5” is not a whole number"),
        ("100001,seen", "days: “100001” is not a whole number"),
        ("1e400,seen", "days: “1e400” is not a whole number"),
        ("9" * 5000 + ",seen", "days: “99999999"),
        ("\u0663,seen", "days: “\u0663” is not a whole number"),
        (",seen", "days: it is empty; give one such as 12."),
        ("3,", "ended: it is empty; give seen, waiting, or another word for how the wait ended."),
        ("3", "ended: it is empty"),
        (
            "3,seen,4",
            "line: it has 3 cells, and the first line names 2 columns; put a cell that holds the delimiter in",
        ),
    ],
)
def test_a_line_that_cannot_be_read(line: str, said: str) -> None:
    assert why(line).startswith(said)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (
            "2026-04-09,2026-04-08,seen",
            "stop_on: 2026-04-08 is before the start on 2026-04-09; correct one of them.",
        ),
        (
            "2026-04-09,2026-05-01,seen",
            "stop_on: 2026-05-01 is after today, 2026-04-30; correct it, or give a later --today.",
        ),
        (
            "2026-05-09,,waiting",
            "start_on: 2026-05-09 is after today, 2026-04-30; correct it, or give a later --today.",
        ),
        (
            "2026-04-09,2026-04-10,waiting",
            "stop_on: it is “2026-04-10”, and ended says waiting; leave it empty, or say how it ended.",
        ),
        ("2026-04-09,,seen", "stop_on: it is empty, and ended says “seen”; give the day, or say waiting."),
        ("2026-04-09,,died", "stop_on: it is empty, and ended says “died”; give the day, or say waiting."),
        (
            "9.4.2026,,waiting",
            "start_on: “9.4.2026” is not a day from 1900 to 2100; give one that exists, such as 2026-04-01.",
        ),
        ("2026-04-09,2026-04-31,seen", "stop_on: “2026-04-31” is not a day from 1900 to 2100; give one that exists"),
        (",,waiting", "start_on: it is empty; give one that exists, such as 2026-04-01."),
    ],
)
def test_dates_that_cannot_be_right(line: str, said: str) -> None:
    assert why(line, header=DATED).startswith(said)


def test_an_open_wait_needs_today() -> None:
    said = "stop_on: it is empty, and no today is given; add --today with a day such as 2026-04-01."
    assert why("2026-04-09,,waiting", header=DATED, today=None) == said


@pytest.mark.parametrize("name", ["days", "start_on", "stop_on", "ended", "entered"])
def test_a_column_that_is_there_twice_could_be_either(refusal: Callable[..., Refusal], name: str) -> None:
    header = f"days,start_on,stop_on,ended,entered,{name}"
    assert refusal(read, "3,,,seen,,", header=header).message == (
        f"line 1: {name}: there are two such columns; keep one of them."
    )


def test_the_longest_wait_there_may_be() -> None:
    assert ones(read("100000,seen")) == [(100_000, "seen", 0, 1)]


def test_days_already_waited_that_are_no_number() -> None:
    assert why("4,seen,x", header="days,ended,entered").startswith("entered: “x” is not a whole number of days")


def test_spaces_in_the_name_of_a_column_do_not_matter() -> None:
    assert list(read("3,seen,a", header="days, ended ,home  site", group="home site").groups) == ["a"]


def test_nobody_has_waited_longer_before_than_in_all() -> None:
    said = "entered: 5 is more than the 4 days of the whole wait; give the days waited before it came into sight."
    assert why("4,seen,5", header="days,ended,entered") == said
    assert ones(read("4,seen,4", header="days,ended,entered")) == [(4, "seen", 4, 1)]


def test_a_refused_line_costs_only_itself() -> None:
    listed = read("3,seen", "x,seen", "", '3,"seen', "x,seen", "4,seen")
    assert [number for number, _ in listed.refused] == [3, 5, 6]
    assert ones(listed) == [(3, "seen", 0, 1), (4, "seen", 0, 1)]
    assert listed.refused[1][1] == "line: a quote is opened and never closed; mend it."


def test_too_many_words_are_a_column_that_was_meant_otherwise() -> None:
    said = why("1,waiting", *(f"1,w{number}" for number in range(MOST_WORDS)), "1,another", "1,seen", "1,w0")
    assert said.startswith("ended: “another” is one more than the 50 different words that there may be; give few")


def test_too_many_groups_are_a_column_that_was_meant_otherwise() -> None:
    lines = [f"1,seen,g{number}" for number in range(MOST_GROUPS)]
    said = why(*lines, "1,seen,another", "1,seen,g0", header="days,ended,ref", group="ref")
    assert said.startswith("ref: “another” is one more than the 200 groups that there may be; group by a column")


@pytest.mark.parametrize(
    ("header", "group", "said"),
    [
        (
            "site",
            "",
            "line 1: days: there is no such column; name the columns on the first line: days (or start_on and",
        ),
        ("12,seen", "", "line 1: days: there is no such column"),
        ("days,site", "", "line 1: ended: there is no such column; name it on the first line."),
        ("start_on,ended", "", "line 1: stop_on: there is no such column"),
        ("stop_on,ended", "", "line 1: start_on: there is no such column"),
        ("days,ended,site", "place", "line 1: place: there is no such column; group by one of days, ended, site."),
        ('"days,ended', "", "line 1: line: a quote is opened and never closed; mend it."),
        ("\n\ndays,site", "", "line 3: ended: there is no such column"),
    ],
)
def test_a_first_line_that_does_not_name_the_columns(header: str, group: str, said: str) -> None:
    with pytest.raises(Refusal) as refused:
        read("3,seen", header=header, group=group)
    assert refused.value.message.startswith(said)


def test_an_empty_file_names_no_columns(refusal: Callable[..., Refusal]) -> None:
    assert refusal(read_waits, b"").message.startswith("line 1: days: there is no such column")


@pytest.mark.parametrize("data", [b"days,ended\n\x00", b"PK\x03\x04\x00", b"\xff\xfea"])
def test_what_is_no_text_is_refused_whole(refusal: Callable[..., Refusal], data: bytes) -> None:
    assert refusal(read_waits, data).message == "line 1: line: this is not text; save the list as CSV in UTF-8."


@given(st.binary(max_size=60).map(lambda data: b"days,ended,entered\n" + data))
def test_whatever_stands_in_a_file_is_read_or_refused(data: bytes) -> None:
    try:
        listed = read_waits(data, group="ended", today=TODAY)
    except Refusal as refused:
        assert refused.message.startswith("line 1: ")
    else:
        assert (listed.waits.entered <= listed.waits.days).all() and (listed.waits.entered >= 0).all()


def test_lines_are_counted_as_an_editor_counts_them() -> None:
    data = b'a,b\n"two\nlines",1\n"x"y,2\n"open,3\nlast,4\n'
    assert list(read_lines(data)) == [
        (1, ["a", "b"]),
        (2, ["two\nlines", "1"]),
        (4, "a quote inside a cell is not doubled"),
        (5, "a quote is opened and never closed"),
        (6, ["last", "4"]),
    ]
