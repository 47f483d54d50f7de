"""Waits as they are counted in the database: against the same rows read one by one, and who stands behind a figure."""

from collections import defaultdict
from collections.abc import Iterator
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from caseload.models import Wait
from caseload.reads import waits as reads
from caseload.reads.waits import Asked, By, Dimension, Member, behind, figures_of, stretches_of
from caseload.waits.audit import Window, figures
from caseload.waits.figures import Figures
from caseload.waits.rows import Period, Row
from caseload.waits.terms import READ_FROM, Behind, Clock, End
from tests.record.made_waits import SURGEONS, made

TODAY = date(2026, 4, 1)
MARCH = Period(date(2026, 3, 1), date(2026, 3, 31))
STITCHES = (Clock.STITCHES_OUT, Clock.SLIPPAGE)


@pytest.fixture
def waits(clinic) -> list[Wait]:
    return made(clinic, 600, since=date(2025, 11, 1), days=151, until=TODAY)


def asked(clock: Clock = Clock.FIRST_VISIT, **own) -> Asked:
    return Asked(**{"clock": clock, "period": MARCH} | own)


def as_counted(wait: Wait, clock: Clock) -> Row:
    """A stored wait as its clock reads it."""
    row = Row(wait.started_on, wait.stopped_on, wait.ended, wait.entered_on, wait.due_on)
    if clock is Clock.SLIPPAGE:
        return row._replace(started_on=min(wait.target_on, wait.stopped_on or date.max))
    if clock is Clock.FIRST_VISIT_RESTARTED and wait.restarted_on:
        moved = wait.restarted_on - wait.started_on
        return row._replace(started_on=wait.restarted_on, due_on=wait.due_on + moved)
    if clock is Clock.FIRST_VISIT_RESTARTED and wait.missed_on:
        return row._replace(stopped_on=wait.missed_on, ended=End.DID_NOT_ATTEND)
    return row


def keys(wait: Wait) -> Iterator[tuple[str, str]]:
    yield "site", wait.site.code if wait.site else ""
    yield "therapist", wait.therapist.code if wait.therapist else ""
    yield from ((name, getattr(wait, name)) for name in ("surgeon", "suture", "priority"))


def in_march(row: Row) -> bool:
    came = max(row.started_on, row.entered_on or date.min)
    waited = came <= MARCH.last and (row.stopped_on is None or row.stopped_on >= max(came, MARCH.first))
    return waited or bool(row.due_on and MARCH.first <= row.due_on <= MARCH.last)


def one_by_one(clock: Clock) -> Figures:
    """The figures from the rows themselves."""
    stored = Wait.objects.filter(clock=READ_FROM.get(clock, clock)).select_related("site", "therapist")
    rows = [(wait, as_counted(wait, clock)) for wait in stored]
    groups: dict = defaultdict(lambda: defaultdict(list))
    for wait, row in rows:
        for name, key in keys(wait) if in_march(row) else ():
            groups[name][key].append(row)
    windows = [
        Window(wait.earliest_on, wait.target_on, wait.due_on, wait.stopped_on, wait.ended)
        for wait in (stored if clock in STITCHES else ())
    ]
    shown_from = {"site": 1, "surgeon": 1, "therapist": 20}
    counted = [row for _, row in rows]
    return figures(clock, MARCH, counted, stretches_of(MARCH, By.WEEK), groups, windows, shown_from=shown_from)


def behind_each(found: Figures) -> dict[Behind, int]:
    """Each figure that a click leads from."""
    now, due, seen = found.now, found.now.within, found.now.within_completed
    numbers = {
        Behind.ALL: now.waits, Behind.AT_START: now.at_start, Behind.BEGAN: now.began, Behind.WAITING: now.waiting,
        Behind.SEEN: now.seen, Behind.ENDED: sum(now.competing.values()),
    }  # fmt: skip
    if due and seen:
        numbers |= {Behind.DUE: due.of, Behind.WITHIN: due.number, Behind.NOT_WITHIN: due.of - due.number}
        numbers |= {Behind.SEEN_WITHIN: seen.number, Behind.SEEN_LATE: seen.of - seen.number}
    if found.slippage:
        numbers |= {word: getattr(found.slippage, word.value.replace("-", "_")) for word in OF_WINDOW}
    return numbers


OF_WINDOW = (Behind.EARLY, Behind.INSIDE, Behind.LATE, Behind.OVERDUE, Behind.AHEAD, Behind.ENDED_OTHERWISE)


def test_the_figures_of_every_clock_are_those_of_its_rows_one_by_one(waits):
    for clock in Clock:
        assert figures_of(asked(clock), TODAY) == one_by_one(clock)


def test_as_many_stand_behind_a_figure_as_it_says(waits):
    told = {(clock, which): number for clock in Clock
            for which, number in behind_each(figures_of(asked(clock), TODAY)).items()}  # fmt: skip
    assert told == {(clock, which): behind(asked(clock), which, TODAY).count() for clock, which in told}
    assert {which for _, which in told} == set(Behind) and sum(number == 0 for number in told.values()) < 3


def test_as_many_stand_behind_a_group_as_it_says(waits, clinic):
    found = figures_of(asked(Clock.STITCHES_OUT), TODAY)
    members = {clinic.site.code: clinic.site.pk, clinic.quay.code: clinic.quay.pk, "": None}
    for dimension, of in {Dimension.SITE: members.get, Dimension.SURGEON: str, Dimension.SUTURE: str}.items():
        for group in found.groups[dimension].groups:
            member = Member(dimension, of(group.key))
            assert behind(asked(Clock.STITCHES_OUT), Behind.ALL, TODAY, member).count() == group.waits
            assert behind(asked(Clock.STITCHES_OUT), Behind.SEEN, TODAY, member).count() == group.seen
        points = found.groups[dimension].funnel.points if found.groups[dimension].funnel else ()
        for point in points:
            member = Member(dimension, of(point.key))
            assert behind(asked(Clock.STITCHES_OUT), Behind.WITHIN, TODAY, member).count() == point.share.number


def test_as_many_stand_behind_a_way_to_end_as_it_says(waits):
    ends = figures_of(asked(Clock.FIRST_VISIT_RESTARTED), TODAY).now.competing
    counted = {
        end: behind(asked(Clock.FIRST_VISIT_RESTARTED), Behind.ENDED, TODAY, Member(Dimension.ENDED, end)).count()
        for end in ends
    }
    assert counted == ends and ends[End.DID_NOT_ATTEND] > 0


def test_what_is_asked_for_narrows_what_is_counted(waits, clinic):
    narrow = {"site": clinic.site.pk, "surgeon": SURGEONS[3]}
    kept = Wait.objects.filter(**narrow)
    found = figures_of(asked(Clock.WOUND_CLOSED, **narrow), TODAY).now
    Wait.objects.exclude(pk__in=kept.values("pk")).delete()
    assert found == figures_of(asked(Clock.WOUND_CLOSED), TODAY).now and found.waits > 0
    assert behind(asked(Clock.WOUND_CLOSED, site=clinic.quay.pk), Behind.ALL, TODAY).count() == 0


def test_the_longest_come_first(waits):
    days = list(behind(asked(Clock.WOUND_CLOSED), Behind.ALL, TODAY).values_list("days", flat=True))
    assert days == sorted(days, reverse=True) and days[0] > 31


def test_a_period_that_is_not_over_is_counted_up_to_today(waits):
    so_far = Period(MARCH.first, date(2026, 3, 12))
    going_on = figures_of(asked(), date(2026, 3, 12))
    assert going_on == figures_of(asked(period=so_far), TODAY) and going_on.now.period == so_far
    assert behind(asked(), Behind.WAITING, date(2026, 3, 12)).count() == going_on.now.waiting


def test_as_many_questions_are_asked_of_many_waits_as_of_few(waits):
    def questions() -> list[int]:
        counted = []
        for clock in Clock:
            with CaptureQueriesContext(
                connection,
            ) as captured:
                figures_of(asked(clock), TODAY)
            counted.append(len(captured))
        return counted

    many = questions()
    Wait.objects.filter(pk__gt=Wait.objects.order_by("pk")[20].pk).delete()
    assert many == questions() == [3, 3, 3, 4, 4, 3]


def test_nothing_is_said_of_nobody(clinic):
    assert reads.surgeons() == []
    for clock in Clock:
        found = figures_of(asked(clock), TODAY)
        assert found.now.waits == 0 and found.now.refused and not any(each.groups for each in found.groups.values())


def test_surgeons_are_named_by_the_alphabet(waits):
    assert reads.surgeons() == sorted(SURGEONS[1:])


@pytest.mark.parametrize(
    ("last", "by", "first", "ends", "many"),
    [
        (date(2026, 3, 31), By.WEEK, date(2025, 9, 29), date(2026, 3, 29), 26),  # a Tuesday: the week is not over
        (date(2026, 3, 29), By.WEEK, date(2025, 9, 29), date(2026, 3, 29), 26),  # a Sunday
        (date(2026, 3, 31), By.MONTH, date(2025, 4, 1), date(2026, 3, 31), 12),
        (date(2026, 3, 30), By.MONTH, date(2025, 3, 1), date(2026, 2, 28), 12),
    ],
)
def test_a_trend_is_cut_into_whole_weeks_or_months(last, by, first, ends, many):
    stretches = stretches_of(Period(date(2026, 3, 1), last), by)
    assert (stretches[0].first, stretches[-1].last, len(stretches)) == (first, ends, many)
    assert all(
        one.last + timedelta(days=1) == next_.first for one, next_ in zip(stretches, stretches[1:], strict=False)
    )
