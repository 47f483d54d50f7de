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
