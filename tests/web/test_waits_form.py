"""What an address asks of the waits: its period, what narrows it, and what is said of what cannot be."""

from datetime import date

import pytest

from caseload.models import Staff
from caseload.reads.names import Named, Names
from caseload.reads.waits import By, Dimension, Member
from caseload.waits.rows import Period
from caseload.waits.terms import Behind, Clock
from caseload.web.forms.wait_patients import WaitPatientsForm, group_name
from caseload.web.forms.waits import WaitsForm
from tests.scenario import TODAY

NAMES = Names((Named("fern", 3, "Fernhollow"),), (Named("thea", 8, "Thea Marsh"),))
MARCH = Period(date(2026, 3, 1), date(2026, 3, 31))


def form(kind=WaitsForm, today=TODAY, **query):
    return kind(query, names=NAMES, staff=Staff(is_lead=True), today=today, surgeons=["Ms Alder"])


def own(first="", last="", **query):
    return form(period="own", first=first, last=last, **query)


@pytest.mark.parametrize(
    ("period", "days"),
    [
        ("", (date(2026, 3, 1), date(2026, 3, 31))),
        ("month-2025-11", (date(2025, 11, 1), date(2025, 11, 30))),
        ("month-2017-02", (date(2017, 2, 1), date(2017, 2, 28))),
        ("last-3", (date(2026, 1, 1), date(2026, 3, 31))),
        ("last-12", (date(2025, 4, 1), date(2026, 3, 31))),
        ("month-2026-04", (date(2026, 4, 1), TODAY)),
    ],
)
def test_a_period_is_a_month_or_some_or_the_month_so_far(period, days):
    found = form(period=period)
    assert (found.asked().period, found.remarks) == (Period(*days), [])


def test_a_period_from_one_day_to_another_is_read_as_dates_are_typed():
    found = own("1/2/26", "Sat 14 March 2026")
    assert found.asked().period == Period(date(2026, 2, 1), date(2026, 3, 14))
    assert found.query == {"period": "own", "first": "2026-02-01", "last": "2026-03-14", "clock": "first-visit"}
    assert form(**found.query).asked() == found.asked()


@pytest.mark.parametrize("first", ["1/2/26", "soon"])
def test_days_beside_another_period_are_not_passed_over_in_silence(first):
    found = form(period="month-2026-03", first=first)
    (remark,) = found.remarks
    assert "“from one day to another” alone. March 2026 is shown." in remark and found.asked().period == MARCH


@pytest.mark.parametrize(
    ("first", "last", "said"),
    [
        ("14/3/26", "1/3/26", "The first day of the period is after its last."),
        ("1/3/26", "", "A period from one day to another needs its first and its last day."),
        ("1/3/26", "2/4/26", "The period ends in the future."),
        ("1/3/16", "1/3/26", "The period begins more than 10 years ago."),
        ("1/3/26", "31/2/26", "‘31/2/26’: February has 28 days. Correct the day, month or year."),
    ],
)
def test_days_that_make_no_period_are_said_and_the_last_month_shown(first, last, said):
    found = own(first, last)
    assert found.asked().period == MARCH and "first" not in found.query
    (remark,) = found.remarks
    assert remark == f"{said} March 2026 is shown."


@pytest.mark.parametrize(
    "period", ["month-2026-05", "month-1999-01", "month-2026-13", "month-2026-3", "month-٢٠٢٦-03", "x"]
)
def test_a_month_that_is_on_no_list_is_left_out_and_said(period):
    found = form(period=period)
    assert found.asked().period == MARCH and found.query["period"] == "month-2026-03"
    assert found.remarks == ["The filter “Period” held something that is not on its list, and was left out."]


def test_what_narrows_is_taken_from_lists_and_said_in_a_sentence():
    asked = {"clock": "stitches-out", "site": "fern", "therapist": "thea", "surgeon": "Ms Alder", "by": "month"}
    found = form(**asked, suture="absorbable", priority="urgent")
    of = found.asked()
    assert (of.clock, of.site, of.therapist, of.surgeon, of.by) == (Clock.STITCHES_OUT, 3, 8, "Ms Alder", By.MONTH)
    assert (of.suture, of.priority, found.is_set) == ("absorbable", "urgent", True)
    assert found.sentence == (
        "Surgery to stitches out, March 2026; Fernhollow, Thea Marsh, Ms Alder, absorbable stitches, urgent."
    )


def test_what_is_on_no_list_is_left_out():
    names = ("clock", "site", "therapist", "surgeon", "suture", "priority", "by")
    found = form(**dict.fromkeys(names, "nothing"))
    assert found.asked() == form().asked() and len(found.remarks) == len(names) and not found.is_set
    assert found.sentence == "Referral to first visit, March 2026; all patients."


def test_a_link_keeps_what_is_asked_but_for_what_it_changes():
    found = form(site="fern")
    assert found.href("wait-patients", which="seen", group=group_name("surgeon", "Ms Alder")) == (
        "/waits/patients/?clock=first-visit&period=month-2026-03&site=fern&which=seen&group=surgeon%3AMs+Alder"
    )


@pytest.mark.parametrize(
    ("group", "member", "said"),
    [
        ("site:fern", Member(Dimension.SITE, 3), "Fernhollow"),
        ("site:", Member(Dimension.SITE, None), "no site"),
        ("therapist:thea", Member(Dimension.THERAPIST, 8), "Thea Marsh"),
        ("surgeon:Ms Alder", Member(Dimension.SURGEON, "Ms Alder"), "Ms Alder"),
        ("surgeon:", Member(Dimension.SURGEON, ""), "surgeon not known"),
        ("suture:none", Member(Dimension.SUTURE, "none"), "no stitches"),
        ("ended:declined", Member(Dimension.ENDED, "declined"), "declined by the patient"),
        ("surgeon:Mr Nobody", None, ""),
        ("nothing", None, ""),
    ],
)
def test_a_group_is_one_of_those_there_are(group, member, said):
    found = form(WaitPatientsForm, group=group)
    assert (found.member, found.member_said) == (member, said)
    assert bool(found.remarks) == (member is None) and ("group" in found.query) == (member is not None)


def test_a_clock_has_its_own_figures_only():
    assert form(WaitPatientsForm, which="early", clock="stitches-out").figure is Behind.EARLY
    assert form(WaitPatientsForm, which="within", clock="wound-closed").figure is Behind.WITHIN
    for clock, which in (("wound-closed", "early"), ("appointment-offered", "within"), ("", "nothing")):
        found = form(WaitPatientsForm, which=which, clock=clock)
        assert found.figure is Behind.ALL and len(found.remarks) == 1


def test_every_field_has_a_control_with_what_was_chosen():
    controls = {label: str(markup) for _, label, markup in own("1/3/26", "", site="fern").controls}
    assert 'value="fern" selected' in controls["Site"] and 'value="1/3/26"' in controls["First day"]
    assert list(controls) == [
        "Clock", "Period", "First day", "Last day", "Site", "Therapist", "Surgeon", "Stitches", "Priority", "Trend",
    ]  # fmt: skip
