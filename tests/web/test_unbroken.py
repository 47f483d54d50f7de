"""Dates on pages: none breaks at the end of a line, whatever sentence it stands in."""

from datetime import UTC, date, datetime

import pytest

from caseload.web.marks import whole
from caseload.web.templatetags.page import say, unbroken
from caseload.web.templatetags.record import when
from tests.web.reading import read

DAY = date(2026, 4, 1)


def test_a_date_keeps_together():
    assert say(DAY) == '<span class="nowrap">Wed 1 Apr 2026</span>' and say(None) == ""


@pytest.mark.parametrize("said", ["from Wed 1 Apr 2026 to", "Wed 1 Apr 2026, 09:20", "day 12"])
def test_a_sentence_reads_as_before(said):
    assert whole(said).replace('<span class="nowrap">', "").replace("</span>", "") == said


@pytest.mark.parametrize(
    ("said", "kept"),
    [("ring 01632 960100 at once", "01632~960100"), ("on 4 December", "4~December"), ("4 of 10", "4 of")],
)
def test_a_number_stays_whole_and_with_what_it_counts(said, kept):
    assert kept.replace("~", "\N{NO-BREAK SPACE}") in unbroken(said)


def test_a_time_stays_with_its_date():
    assert when(datetime(2026, 4, 1, 9, tzinfo=UTC)) == '<span class="nowrap">Wed 1 Apr 2026, 10:00</span>'


def test_what_was_typed_is_escaped():
    assert whole("<b> since Wed 1 Apr 2026") == '&lt;b&gt; since <span class="nowrap">Wed 1 Apr 2026</span>'


def test_a_title_holds_no_markup(clinic, admin):
    page = admin.get("/diary/").content.decode()
    assert "<title>Diary, Wed 1 Apr 2026 – Caseload planner</title>" in page
    assert 'value="Wed 1 Apr 2026"' in page and "Wed 1 Apr 2026" in read(admin.get("/diary/?as=week"))
