"""The page of the waits: what it says, where its numbers lead, and whom it lets in."""

import re
from collections.abc import Callable
from datetime import date, timedelta
from random import Random
from urllib.parse import parse_qs

import pytest
from django.test import Client

from caseload.demo.waiting import courses
from caseload.models import Referral, Site, Wait
from caseload.waits.figures import Figures, Groups
from caseload.waits.terms import Clock, End
from caseload.web.views import waits as view
from tests.scenario import TODAY, Fernhollow, by
from tests.waits import sample
from tests.web.reading import read

ADDRESS = "/waits/"
Show = Callable[..., str]


@pytest.fixture
def show(lead: Client, monkeypatch: pytest.MonkeyPatch) -> Show:
    """The text of the page for these figures, with spaces as one."""
    Site.objects.filter(name="Fernhollow").update(code="fernhollow")
    Site.objects.filter(name="Quay Street").update(code="quay-street")

    def shown(figures: Figures, **asked: str) -> str:
        monkeypatch.setattr(view, "figures_of", lambda asked, today: figures)
        page = read(lead.get(ADDRESS, asked))
        return " ".join(page.replace("&nbsp;", " ").split()).replace("\N{NO-BREAK SPACE}", " ")

    return shown


def text(page: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


def behind(page: str) -> list[tuple[str, dict[str, str]]]:
    """Each number that leads to patients, and the values of its address."""
    found = re.findall(r'<a href="/waits/patients/\?([^"]+)">([^<]+)</a>', page)
    return [
        (number, {name: value for name, (value,) in parse_qs(query.replace("&amp;", "&")).items()})
        for query, number in found
    ]


def test_everybody_is_counted_once_and_it_adds_up(show: Show) -> None:
    said = text(show(sample.figures()))
    assert "84 waits: 40 at the start + 44 began = 58 seen + 4 ended otherwise + 22 still waiting at the end." in said


def test_how_long_is_said_in_words_with_the_curve_and_its_numbers(show: Show) -> None:
    page = show(sample.figures())
    assert "Half were seen by day 22 (likely between day 17 and day 26). 92 in 100 were seen by day 51" in page
    assert "From day 52 on fewer than 5 are watched" in page and page.count("<svg") >= 5
    assert '<th scope="row">51</th><td>6</td><td>4</td><td>7 %</td><td>1 % to 18 %</td>' in page


def test_what_the_completed_only_say_stands_beside_the_truth(show: Show) -> None:
    said = text(show(sample.figures()))
    assert "Completed waits alone say better; the truth is worse." in said
    assert "Half, by day 16 13 better 3 days shorter" in said and "Half, by day 15 22 worse 7 days longer" in said
    assert (
        "How long people wait differs by more than chance would explain (p = 0.012)." in said
        and "are missing from them" in said
    )


def test_within_target_is_counted_both_ways(show: Show) -> None:
    said = text(show(sample.figures()))
    assert "Of those whose target day fell in March 2026 21 25 46 46 % 32 % to 60 %" in said
    assert "Of completed waits alone: seen in March 2026 40 18 58 69 % 56 % to 79 %" in said


def test_trend_and_flow_name_what_stands_out(show: Show) -> None:
    said = text(show(sample.figures()))
    assert "By more than chance stand out: week from Mon 16 Mar 2026: 15 %, below the limits;" in said
    assert "from Mon 26 Jan 2026 0 0 – –" in said and "from Mon 16 Mar 2026 2 13 15 % 23 % to 97 % below" in said


def test_groups_stand_in_the_order_of_names_and_are_no_ranking(show: Show) -> None:
    page = show(sample.figures())
    rows = [text(row) for row in re.findall(r"<tr>.*?</tr>", page[page.index("By site") :])]
    assert rows[1:4] == [
        "A Fernhollow 50 30 38.2 18 22 18 to 27 not reached 32 % 14 of 44",
        "mill-lane 3 2 – 1 – – –",
        "B Quay Street 31 22 14.2 7 12 9 to 15 30 24 or later 80 % 16 of 20",
    ]
    said = text(page)
    assert "Between sites waits differ by more than chance would explain (p = 0.003)." in said
    assert "this is not a ranking" in said and "Quay Street lies above the limits of 99.8 %" in said


def test_those_too_few_to_be_shown_are_counted_so_that_all_adds_up(show: Show) -> None:
    all_of = sample.groups()
    large = all_of._replace(groups=tuple(group for group in all_of.groups if group.waits > 3))
    said = text(show(sample.figures(groups={"therapist": large})))
    assert "Not shown: 3, of therapists with too few waits to be shown by themselves." in said
    assert "Not shown" not in text(show(sample.figures()))


def test_one_group_alone_is_compared_with_nobody(show: Show) -> None:
    alone = Groups(sample.groups().groups[:1], None, None)
    assert "By surgeon" not in show(sample.figures(groups={"surgeon": alone}))


def test_how_waits_end_adds_up_to_everybody(show: Show) -> None:
    said = text(show(sample.figures()))
    assert "Seen 58 36 % 56 % 56 %" in said and "Declined by the patient 3 2 % 5 % 5 %" in said
    assert "Discharged unseen 1 0 % 0 % 2 %" in said and "Still waiting 22 62 % 39 % 37 %" in said


def test_stitches_stand_against_their_window(show: Show) -> None:
    said = text(show(sample.figures(Clock.STITCHES_OUT, slippage=sample.slippage()), clock="stitches-out"))
    assert "Out before the window 2 Out inside the window 30 Out after the window 6 Still in after the window 4" in said
    assert "4 days before the target day 1" in said and "On the target day 14" in said
    assert "Half had their stitches out by day 22" in said and "58 stitches out + 4 ended otherwise" in said


@pytest.mark.parametrize(
    ("number", "values"),
    [
        ("84", {"which": "all"}),
        ("25", {"which": "not-within"}),
        ("30", {"which": "seen", "group": "site:fernhollow"}),
        ("3", {"which": "ended", "group": "ended:declined"}),
        (
            "13",
            {"which": "due", "period": "own", "first": "2026-03-16", "last": "2026-03-22"},
        ),
    ],
)
def test_numbers_lead_to_the_patients_behind_them(show: Show, number: str, values: dict[str, str]) -> None:
    asked = {"clock": "first-visit", "period": "month-2026-03", "priority": "urgent"}
    assert (number, asked | values) in behind(show(sample.figures(), priority="urgent"))


def test_the_other_way_to_count_the_same_waits_is_a_link_away(show: Show) -> None:
    (href,) = re.findall(r'counted another way: <a href="([^"]+)"', show(sample.figures(), priority="urgent"))
    assert href.startswith("/waits/?") and {"clock=first-visit-restarted", "priority=urgent"} <= set(
        href.partition("?")[2].replace("&amp;", "&").split("&")
    )
    assert "counted another way" not in show(sample.figures(Clock.WOUND_CLOSED), clock="wound-closed")


def test_too_few_get_their_numbers_and_no_curve(show: Show) -> None:
    page = show(sample.figures(now=sample.few(), change=None, groups={}))
    assert "3 waits are fewer than 5: their numbers are here, and no curve." in page and "The curve in" not in page
    assert "3</a> waits:" in page and "cannot be said: one of the periods has too few waits" in page


def test_nobody_waited(show: Show) -> None:
    nobody = sample.few(at_start=0, began=0, seen=0, waiting=0, within=None, within_completed=None)
    page = show(sample.figures(Clock.OFFERED, now=nobody, trend=None, change=None, groups={}))
    assert "Nobody waited in this period." in page and "0 waits:" in page and "How waits end" not in page


def test_definitions_methods_rules_and_cautions_stand_at_the_foot(show: Show) -> None:
    said = text(show(sample.figures(methods={"curve": "Kaplan-Meier"})))
    assert "Begins On the day on which the referral was received." in said and "The curve Kaplan-Meier" in said
    assert "Target Within 14 days, urgent within 7 days." in said and "Rules in force Two weeks, version 1" in said
    assert "A figure is a question, not an answer." in said and "local policy" in said


def test_the_real_figures_of_a_clinic_without_waits_are_shown(lead: Client) -> None:
    page = lead.get(ADDRESS, {"by": "month"}).content.decode()
    assert "Nobody waited in this period." in page and 'aria-current="page">Waits' in page


def test_a_month_that_misleads_is_told_both_ways_from_the_record_to_the_page(clinic: Fernhollow, lead: Client) -> None:
    """A referral a day, seen 12 to 28 days later, and beside them the month that the demo has."""
    days = [TODAY - timedelta(days=back) for back in range(30, 180)]
    seen = [(on, on + timedelta(days=12 + place * 7 % 17)) for place, on in enumerate(days)]
    waited(clinic, [*seen, *((each.received_on, each.seen_on) for each in courses(TODAY, Random(1)))])
    said = text(lead.get(ADDRESS).content.decode().replace("\N{NO-BREAK SPACE}", " "))
    assert "Completed waits alone say better; the truth is worse (half)." in said
    assert re.search(r"Half, by day [\d.]+ [\d.]+ better .* Half, by day \d+ \d+ worse", said)
    assert "How long people wait differs by more than chance would explain (p = 0.002)." in said


def waited(clinic: Fernhollow, waits: list[tuple[date, date | None]]) -> None:
    """First visits by the days on which they began and stopped, written past every act."""
    patient = clinic.patient()
    referral = Referral.objects.create(
        patient=patient, received_on=date(2025, 1, 1), source="a general practice", recorded_at=by().at
    )
    Wait.objects.bulk_create(
        Wait(
            clock=Clock.FIRST_VISIT, key=f"first-visit:{place}", patient=patient, referral=referral, started_on=began,
            stopped_on=stopped, ended=End.SEEN if stopped else End.WAITING, due_on=began + timedelta(days=14),
        )
        for place, (began, stopped) in enumerate(waits)
    )  # fmt: skip


def test_the_figures_come_as_a_file(lead: Client) -> None:
    answer = lead.post(ADDRESS, {"kind": "csv"})
    assert answer["Content-Type"].startswith("text/csv") and "waits-first-visit" in answer["Content-Disposition"]


def test_only_the_lead_sees_the_waits(therapist: Client, admin: Client) -> None:
    assert {client.get(ADDRESS).status_code for client in (therapist, admin)} == {403}
    assert "Waits</a>" not in therapist.get("/help/").content.decode()
