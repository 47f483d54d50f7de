"""Need against room, read back from the drawing. The rules for it are our own."""

import re
from datetime import date, timedelta

from caseload.booking.expected import Interval
from caseload.booking.outlook import Outlook, Surgery, days_ahead
from caseload.booking.room import Room, Visit
from caseload.timetable.calendar import OpenDays
from caseload.timetable.terms import FollowUpKind
from caseload.web.wait_charts import need_chart
from tests.web.drawn import near, percent, plot, walked, words

SUNDAY = date(2026, 4, 12)
OPEN = OpenDays(frozenset(range(5)), {}, date(2020, 1, 1), date(2027, 12, 31))
STITCHES = frozenset({FollowUpKind.STITCHES_OUT})
DAYS = 56


def visit(day: int, number: int, *, expected: bool = False) -> Visit:
    """Visits that have to be on one day, counted from the first Monday."""
    on = SUNDAY + timedelta(days=1 + day)
    return Visit(STITCHES, on, on, 1, 1, number, expected)


def outlook(**own: tuple[Visit | Room, ...]) -> Outlook:
    first, last = days_ahead(SUNDAY)
    said = {"booked": (), "unbooked": (), "expected": (), "expected_most": (), "rooms": ()} | own
    return Outlook(
        site=1, calendar=OPEN, first=first, last=last, surgery=Surgery(0, 0, Interval(0, 0, 0)), usual=3, **said
    )


def room(day: int, free: int) -> Room:
    return Room(SUNDAY + timedelta(days=1 + day), 1, frozenset(), free)


FULL = outlook(
    booked=(visit(0, 1), visit(0, 1)), unbooked=(visit(0, 3), visit(9, 1)), expected=(visit(0, 1, expected=True),),
    expected_most=(visit(0, 5, expected=True),), rooms=(room(0, 8), room(9, 4)),
)  # fmt: skip
SHORT = outlook(unbooked=(visit(8, 3),), expected_most=(visit(30, 2, expected=True),), rooms=(room(8, 1),))


def test_the_parts_of_a_day_stand_on_each_other_in_slots():
    edges = [walked(each.attrib["d"]) for each in plot(need_chart(FULL)).findall("svg/path[@class='edge']")]
    spans = [sorted({y for x, y in edge if x < 2}) for edge in edges]
    assert spans == [[80, 100], [50, 80], [40, 50], [0, 40]]
    assert {x for x, _ in edges[1] if x > 2} == {round(100 * 9.1 / DAYS, 1), round(100 * 9.9 / DAYS, 1)}


def test_parts_are_told_apart_by_their_hatches():
    chart = need_chart(FULL)
    hatches = [each.attrib["d"] for each in plot(chart).iter("path") if each.get("class") == "hatch"]
    assert len(set(hatches)) == 2 and 'class="tone"' in chart
    assert set(re.findall(r"url\(#([^)]+)\)", chart)) == set(re.findall(r' id="([^"]+)"', chart))


def test_a_week_in_which_somebody_finds_no_place_has_a_ground_and_a_number():
    chart = plot(need_chart(SHORT))
    (ground,) = (each for each in chart.iter("rect") if each.get("class") == "lacking")
    assert [(percent(ground, "x"), percent(ground, "width"))] == near([(12.5, 12.5)])
    numbers = [
        ("".join(each.itertext()), percent(each, "x")) for each in chart.iter("text") if each.get("dy") == "4.4em"
    ]
    assert numbers == [("2", 18.8), ("0 (2)", 56.2)]
    assert "without a place" not in "".join(need_chart(FULL).split("aria-label")[1].split('">', 1)[1])


def test_every_monday_has_a_notch_and_its_date():
    found = words(need_chart(FULL))
    assert found["13 Apr"] == (0, 100) and found["20 Apr"] == (12.5, 100) and found["1 Jun"] == (87.5, 100)


def test_the_picture_says_each_week():
    said = plot(need_chart(SHORT)).attrib["aria-label"]
    assert (
        "week of Mon 20 Apr 2026: 0 booked, 3 to be booked, 0 expected, 1 slots free, 2 without a place, 2 at most;"
        in said
    )


def test_without_need_and_room_there_is_no_chart():
    assert need_chart(outlook()) == ""
