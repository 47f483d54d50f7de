"""The day line: what it draws and what it says. The rules for it are our own."""

import re
from datetime import date

import pytest

from caseload.reads.lines import Gate, Line, Span, Tick
from caseload.timetable.terms import FindingKind, FollowUpKind, Lock, Status
from caseload.web import dayline
from caseload.wording.speech import speech

SURGERY = date(2026, 3, 20)


def line(today: int = 12, **parts) -> Line:
    return Line(SURGERY, today, **parts)


def small(today: int = 12, **parts) -> str:
    return dayline.small(line(today, **parts), speech())


def span(status: Status, **days) -> Span:
    own = {"earliest": 12, "latest": 16} | days
    return Span("stitches-out", FollowUpKind.STITCHES_OUT, status, **own)


def test_a_window_is_as_wide_as_its_days_with_both_ends_inside():
    drawn = small(spans=(span(Status.AHEAD),))
    assert '<rect class="w" x="12" y="3.9" width="5" height="2.2"/>' in drawn


@pytest.mark.parametrize("status", list(Status)[2:])
def test_each_state_has_a_shape_of_its_own(status):
    others = {small(20, spans=(span(other),)) for other in Status if other in dayline.SHAPES} - {
        small(20, spans=(span(status),))
    }
    without_words = {re.sub(r"<title>.*?</title>", "", drawn) for drawn in others}
    own = re.sub(r"<title>.*?</title>", "", small(20, spans=(span(status),)))
    assert len(without_words) == 3 and own not in without_words


def test_a_late_window_ends_in_a_point_and_runs_on_to_today():
    drawn = small(20, spans=(span(Status.LATE),))
    assert "l1.4 1.1l-1.4 1.1" in drawn and 'class="over" d="M17 5H20.5"' in drawn


def test_a_gate_is_hollow_once_it_is_open():
    gates = (Gate(Lock.STITCHES_OUT, 13, True), Gate(Lock.WOUND_CLOSED, 13, False))
    drawn = small(gates=gates)
    assert drawn.count('class="clear"') == drawn.count('class="shut"') == 1


def test_two_gates_of_one_day_stand_side_by_side():
    gates = (Gate(Lock.STITCHES_OUT, 13, True), Gate(Lock.WOUND_CLOSED, 13, True))
    places = [float(x) for x in re.findall(r'class="clear" x="([\d.]+)"', small(gates=gates))]
    assert places[1] - places[0] >= 2.2


def test_overlapping_windows_do_not_cover_each_other():
    spans = (span(Status.OPEN, earliest=12, latest=20), span(Status.AHEAD, earliest=15, latest=22))
    tops = re.findall(r'y="([\d.]+)" width', small(spans=spans))
    assert len(set(tops)) == 2


def test_what_lies_beyond_the_ruler_is_drawn_at_its_end():
    drawn = small(400, spans=(span(Status.AHEAD, earliest=120, latest=150),))
    assert 'x="90"' in drawn and 'd="M90.5 0v12"' in drawn


def test_today_before_surgery_is_not_drawn():
    assert 'class="now"' not in small(-3)


def test_the_picture_says_its_facts_in_words():
    said = dayline.tell(
        line(
            spans=(span(Status.OPEN, booked=13),),
            gates=(Gate(Lock.WOUND_CLOSED, 14, False),),
            ticks=(Tick(FindingKind.WOUND, 9),),
        ),
        speech(),
    )
    assert said == [
        "Day 12.",
        "Stitches out: open, Wed 1 Apr 2026 (day\N{NO-BREAK SPACE}12) to Sun 5 Apr 2026 (day\N{NO-BREAK SPACE}16), "
        "booked Thu 2 Apr 2026 (day\N{NO-BREAK SPACE}13).",
        "Gate shut: the wound is not recorded as closed.",
        "Found: wound Sun 29 Mar 2026 (day\N{NO-BREAK SPACE}9).",
    ]


def test_without_a_surgery_date_the_text_says_so():
    assert "no surgery date" in dayline.small(None, speech())


def test_each_part_of_the_large_line_leads_to_its_entry_and_says_why():
    drawn = dayline.large(line(spans=(span(Status.OPEN),)), {"stitches-out": ["Because <of> the rules."]})
    assert 'href="#why-stitches-out"' in drawn and "Because &lt;of&gt; the rules." in drawn


def test_the_line_of_today_runs_beneath_the_names_and_over_the_bar_that_it_stands_in():
    drawn = str(dayline.large(line(14, spans=(span(Status.OPEN), span(Status.AHEAD, earliest=30, latest=40))), {}))
    beneath, over = (match.start() for match in re.finditer('class="now"', drawn))
    assert beneath < drawn.index('class="w open"') < over < drawn.index("Stitches out<tspan")


def test_the_name_of_a_shut_gate_is_a_question_so_that_it_is_not_read_as_a_finding_without_its_state():
    gates = (Gate(Lock.STITCHES_OUT, 13, True), Gate(Lock.WOUND_CLOSED, 15, False))
    drawn = str(dayline.large(line(gates=gates), {}))
    assert "Stitches out<tspan" in drawn and "Wound closed?<tspan" in drawn


NAME = re.compile(r'<text x="([\d.]+)%" dx="(-?8)" y="(\d+)" text-anchor="\w+">([^<]*)<tspan class="soft">([^<]*)')
STEM = re.compile(r'<line class="axis" x1="([\d.]+)%" x2="\1%" y1="(\d+)"')
LETTER = 7  # pixels at most that a letter takes on the average, as measured in Chromium
SIZES = {328: False, 358: False, 720: True, 1200: True}  # pixels across, and whether the state stands beside the name
LOCKS = (Lock.WOUND_CLOSED, Lock.STITCHES_OUT, Lock.TRIMMED)


def crossed(*days: int, sizes: tuple[int, ...] = tuple(SIZES)) -> list[str]:
    """The names of gates that a stem runs through, or that run out of the picture."""
    gates = tuple(Gate(lock, day, False) for lock, day in zip(LOCKS, days, strict=False))
    _, *lanes = str(dayline.large(line(3, gates=gates), {})).split("<a ")
    names = [NAME.search(lane).groups() for lane in lanes]
    stems = [float(STEM.search(lane)[1]) for lane in lanes]
    return [
        f"{name} at {width} pixels, gates on {days}"
        for width in sizes
        for lane, (at, aside, _, name, state) in enumerate(names)
        if not _is_free(
            float(at) * width / 100 + int(aside), LETTER * len(name + state if SIZES[width] else name),
            before=aside == "-8", width=width, stems=[stem * width / 100 for stem in stems[:lane]],
        )
    ]  # fmt: skip


def _is_free(at: float, long: int, *, before: bool, width: int, stems: list[float]) -> bool:
    begins, ends = (at - long, at) if before else (at, at + long)
    return begins >= 0 and ends <= width and not any(begins < stem < ends for stem in stems)


def test_no_stem_runs_through_the_name_of_another_gate_however_far_apart_they_are():
    days = [*range(0, 91, 5), 27, 28, 29, 44, 46, 61, 62, 63, 93]
    assert [each for first in days for second in days for each in crossed(first, second)] == []


@pytest.mark.parametrize("days", [(13, 20, 16), (20, 13, 16), (40, 44, 50), (85, 90, 88), (60, 70, 80), (5, 40, 80)])
def test_nor_where_three_gates_follow_each_other(days):
    assert crossed(*days) == []
