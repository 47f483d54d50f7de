"""From the shell: a site with its time zone, sessions dated ahead, and a year's notice of the end of the holidays."""

from datetime import UTC, date, datetime

import pytest
import time_machine
from django.core.management import CommandError, call_command

from caseload.checks import holidays_reach_far_enough, holidays_running_out
from caseload.models import Region, Session, Site
from tests.record.before import weekly
from tests.scenario import TODAY


def test_a_site_keeps_the_clocks_of_its_zone(db, capsys):
    call_command("add_site", "Riverside", region="GB-ENG", zone="Europe/Dublin")
    assert Site.objects.get(name="Riverside").zone == "Europe/Dublin"
    call_command("add_site", "Fernhollow", region="GB-ENG")
    assert Site.objects.get(name="Fernhollow").zone == "Europe/London"


def test_a_zone_that_there_is_not_is_refused(db):
    with pytest.raises(CommandError, match="no time zone “Europe/Fernhollow”"):
        call_command("add_site", "Riverside", region="GB-ENG", zone="Europe/Fernhollow")


def test_a_holiday_list_that_is_loaded_names_the_sessions_under_it(clinic, on_first_of_april, capsys):
    clinic.session(date(2026, 8, 31))
    call_command("add_site", "Fernhollow", region="GB-ENG")
    assert "1 sessions lie on closed days now: Mon 31 Aug 2026" in capsys.readouterr().out
    assert Session.objects.get().live


def test_the_command_dates_the_week(clinic, on_first_of_april, capsys):
    weekly(clinic)
    Session.objects.all().delete()
    call_command("make_sessions", "--until", "2026-04-30")
    assert capsys.readouterr().out == "4 sessions made, 0 left out.\n"


def test_a_year_before_a_holiday_list_ends_the_system_check_says_so(clinic):
    assert holidays_running_out(date(2026, 12, 30)) == []
    assert [found.id for found in holidays_running_out(date(2026, 12, 31))] == ["caseload.W001"]


def test_the_system_check_names_sessions_beyond_the_known_holidays(clinic):
    clinic.session(date(2027, 5, 4))
    Region.objects.update(covered_until=date(2027, 4, 30))
    assert [found.id for found in holidays_running_out(TODAY)] == ["caseload.W002"]


def test_the_system_check_asks_only_databases_that_are_used(clinic):
    assert holidays_reach_far_enough(databases=None) == []
    assert holidays_reach_far_enough(databases=["default"]) == holidays_running_out(date.today())


@pytest.fixture
def on_first_of_april():
    with time_machine.travel(datetime(TODAY.year, TODAY.month, TODAY.day, 9, tzinfo=UTC), tick=False):
        yield
