"""`demo` on a database without it: what it says, and what it refuses."""

from datetime import date

import pytest
from django.core.management import CommandError

from caseload.demo.people import PASSWORD, SIGN_INS
from caseload.demo.scenario import Summary
from caseload.management.commands import demo
from caseload.models import Site
from tests.demo.saying import make_real, say
from tests.scenario import fernhollow


@pytest.fixture
def small(monkeypatch):
    """The command builds a demo without patients, so that only its own words are tested."""
    made = Summary(
        patients=3, episodes=4, open=2, in_hand=1, planned=1, headlines={"red-flag": 1}, sessions=9, booked=2, free=7
    )
    asked = []

    def build(today, **options):
        asked.append(today)
        options["progress"](3, 3)
        return made

    monkeypatch.setattr(demo, "build", build)
    return asked


def test_it_says_what_it_did_and_who_may_sign_in(db, small):
    said = say()
    assert "4 episodes of 3 patients, 2 of them open" in said and "Red flag open 1" in said
    assert PASSWORD in said and all(each.username in said for each in SIGN_INS)


def test_without_a_terminal_it_shows_progress_in_lines(db, small):
    assert "Telling 3 stories: 100%\n" in say()


def test_it_is_anchored_to_the_local_day(db, small, time_machine):
    time_machine.move_to("2026-06-17T23:30:00Z")
    say()
    assert small == [date(2026, 6, 18)]


@pytest.mark.parametrize("leave", ["patients", "staff", "sites"])
def test_it_refuses_where_anything_is_real(db, small, leave):
    make_real(leave)
    with pytest.raises(CommandError, match=f"1 {leave} of a real service.*DATABASE_URL"):
        say()
    assert small == []


def test_wiping_twice_is_harmless(db):
    assert "no demo here" in say("--wipe", "--yes")


def test_wiping_does_not_touch_a_real_service(db):
    fernhollow()
    with pytest.raises(CommandError, match="real service"):
        say("--wipe", "--yes")
    assert Site.objects.count() == 2
