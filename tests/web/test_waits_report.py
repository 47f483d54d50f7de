"""The report of the waits to be printed: what was asked, by whom, under which rules, with definitions and methods."""

import re
from collections import Counter
from datetime import date
from html import unescape

import pytest
from django.test import Client

from caseload.actions import findings
from caseload.actions.filing import file_month
from caseload.waits.audit import METHODS
from caseload.waits.terms import Clock
from caseload.wording import label
from tests.scenario import by
from tests.web.reading import read


def report(client: Client, query: str = "") -> str:
    answer = client.get(f"/waits/report/?{query}" if not query.startswith("/") else query)
    assert answer.status_code == 200
    return re.sub(r"\s+", " ", unescape(read(answer).partition("<main")[2]))


def test_it_says_what_was_asked_when_by_whom_and_under_which_rules(clinic, lead):
    clinic.episode(surgeon="Dr Vane")
    said = report(lead, "clock=wound-closed&period=month-2026-03&surgeon=Dr+Vane")
    assert "<h1>The waits, March 2026</h1>" in said
    assert "Surgery to wound closed, March 2026; Dr Vane." in said
    assert "Wed 1 Apr 2026, 10:00, by Lena Marsh" in said
    assert "<dt>Rules</dt> <dd> Two weeks, version 1 </dd>" in said


def test_it_carries_the_definition_the_target_and_the_methods(clinic, lead):
    clinic.episode()
    said = report(lead, "clock=wound-closed&period=month-2026-03")
    assert "On the day of surgery." in said and "Within 21 days." in said
    assert all(method in said for method in METHODS.values())
    assert "licensed clinicians decide" in said


def test_its_numbers_lead_nowhere_and_its_tables_are_open(clinic, lead):
    clinic.episode()
    said = report(lead, "clock=stitches-out&period=month-2026-03")
    assert "/waits/patients/" not in said
    assert "<details open>" in said and "<details >" not in said


def test_all_clocks_stand_in_turn_with_ids_of_their_own(clinic, lead):
    clinic.episode()
    said = report(lead, "clock=all&period=month-2026-03")
    places = [said.index(f'class="big">{label(clock)}</h2>') for clock in Clock]
    assert places == sorted(places)
    told_apart = Counter(re.findall(r'<h2 id="([^"]+)"|role="region" aria-label="([^"]+)"', said))
    assert max(told_apart.values()) == 1 and len(told_apart) > 6 * 4


def test_a_month_as_filed_is_not_moved_by_later_entries(clinic, lead):
    episode = clinic.episode()
    filing = file_month(date(2026, 3, 1), by=by(clinic.lead))
    address = f"/waits/months/{filing.code}/report/"
    before = report(lead, address)
    said = {"kind": "stitches", "source": "seen", "stitches_out": 4, "stitches_left": 0, "on": date(2026, 3, 30)}
    findings.record(episode, by=by(clinic.therapist), **said)
    clinic.site.name = "Fernhollow House"
    clinic.site.save()
    assert report(lead, address) == before
    assert "filed on Wed 1 Apr 2026, 10:00 by Lena Marsh" in before


@pytest.mark.parametrize("query", ["clock=nonsense", "period=own&first=2026-05-01"])
def test_nonsense_in_the_address_shows_the_usual_and_says_so(lead, query):
    assert 'role="status"' in report(lead, query)


def test_only_a_lead_may_read_it(therapist, admin):
    assert therapist.get("/waits/report/").status_code == 403
    assert admin.get("/waits/months/abc/report/").status_code == 403
