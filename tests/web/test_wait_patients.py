"""The patients behind a figure of the waits: who they are, as many as the figure says, as a file, and who looked."""

from datetime import date

import pytest

from caseload.actions import jobs
from caseload.models import Job, Look, Wait
from caseload.reads.waits import Asked, figures_of
from caseload.waits.rows import Period
from caseload.waits.terms import Clock
from caseload.web import list_files
from tests.record.made_waits import made
from tests.scenario import TODAY
from tests.web.reading import said

ADDRESS = "/waits/patients/"
MARCH = Period(date(2026, 3, 1), date(2026, 3, 31))
MONTH = "period=month-2026-03"


@pytest.fixture
def waits(clinic):
    return made(clinic, 300, since=date(2026, 1, 1), days=85, until=TODAY)


def wait(episode, **own) -> Wait:
    """The wait for the stitches of an episode, as if it had been so."""
    row = Wait.objects.get(episode=episode, clock=Clock.STITCHES_OUT)
    Wait.objects.filter(pk=row.pk).update(**own)
    Wait.objects.exclude(pk=row.pk).delete()
    return row


def test_the_list_of_a_figure_has_as_many_rows_as_the_figure_says(waits, lead):
    now = figures_of(Asked(Clock.WOUND_CLOSED, MARCH), TODAY).now
    for which, number in {"waiting": now.waiting, "seen": now.seen, "within": now.within.number}.items():
        page = lead.get(f"{ADDRESS}?{MONTH}&clock=wound-closed&which={which}&per=100")
        assert page.context["table"].paging.total == number > 0
        assert page.content.decode().count('<th scope="row">') == number


def test_a_row_says_whose_wait_it_is_and_how_it_stood(clinic, lead):
    episode = clinic.episode(clinic.patient(family="Cole", given="Ann"), surgeon="Ms <Alder>")
    wait(episode, started_on=date(2026, 3, 20), stopped_on=date(2026, 3, 30), ended="seen", due_on=date(2026, 4, 3))
    page = said(lead.get(f"{ADDRESS}?{MONTH}&clock=stitches-out&which=seen"))
    for words in (
        f'<a class="who-is" href="/episodes/{episode.code}/">COLE, Ann</a><small>born Sat 2 Jan 1960</small>',
        '<td class="num">10<span class="narrow-only"> days</span></td>', "Fri 20 Mar 2026</td>",
        "stitches out<small>Mon 30 Mar 2026</small>", "Fri 3 Apr 2026</td>",
        "right ring finger", "Thea Marsh<small>Fernhollow</small>", "Ms &lt;Alder&gt;",
        "<b>1</b> wait: seen. Surgery to stitches out, March 2026; all patients.",
    ):  # fmt: skip
        assert words in page


def test_who_stopped_after_the_period_was_still_waiting_in_it(clinic, lead):
    episode = clinic.episode(surgery_on=date(2026, 2, 20))
    wait(episode, started_on=date(2026, 2, 20), stopped_on=date(2026, 3, 3), ended="declined")
    page = said(lead.get(f"{ADDRESS}?period=month-2026-02&clock=stitches-out&which=waiting"))
    assert "still waiting<small>later: declined by the patient Tue 3 Mar 2026</small>" in page
    assert '<td class="num">8<' in page


def test_a_wait_of_a_referral_leads_to_its_patient(waits, lead):
    page = said(lead.get(f"{ADDRESS}?{MONTH}&which=began"))
    patient = Wait.objects.filter(clock=Clock.FIRST_VISIT, started_on__month=3).first().patient
    assert f'href="/patients/{patient.code}/"' in page and "<td><small>" in page


def test_a_group_has_its_own_list(waits, clinic, lead):
    groups = figures_of(Asked(Clock.WOUND_CLOSED, MARCH), TODAY).groups["site"].groups
    for group in groups:
        page = lead.get(f"{ADDRESS}?{MONTH}&clock=wound-closed&group=site:{group.key}")
        assert page.context["table"].paging.total == group.waits > 0
    assert "everybody who waited (Quay Street)." in said(
        lead.get(f"{ADDRESS}?{MONTH}&clock=wound-closed&group=site:{clinic.quay.code}")
    )


def test_whoever_looks_is_recorded_with_each_patient_shown(waits, clinic, lead):
    page = lead.get(f"{ADDRESS}?{MONTH}&clock=wound-closed&per=50")
    shown = page.context["table"].paging.stop
    assert Look.objects.get(patient=None).rows == shown > 0
    of = Look.objects.filter(by=clinic.lead, route="wait-patients").exclude(patient=None)
    waiting = Wait.objects.filter(clock=Clock.WOUND_CLOSED).values("patient").distinct()
    assert of.count() == waiting.count() == len(set(of.values_list("patient", flat=True)))


@pytest.mark.parametrize("role", ["therapist", "admin"])
def test_only_the_lead_sees_who_they_are(clinic, request, role):
    client = request.getfixturevalue(role)
    assert client.get(ADDRESS).status_code == client.post(ADDRESS, {"kind": "csv"}).status_code == 403
    assert not Look.objects.exists()


def test_all_rows_go_into_the_file_and_that_is_recorded(waits, lead):
    address = f"{ADDRESS}?{MONTH}&clock=wound-closed&which=all"
    total = lead.get(address).context["table"].paging.total
    head, *rows = lead.post(address, {"kind": "csv"}).content.decode("utf-8-sig").splitlines()
    assert len(rows) == total > 25 and Look.objects.filter(route="wait-patients-file", rows=total).count() == 1
    cells = dict(zip(head.split(","), rows[0].split(","), strict=False))
    began, stopped = (date.fromisoformat(cells[name].strip('"')) for name in ('"Began"', '"Stopped"'))
    assert (stopped - began).days == int(cells['"Days"']) > 31 and cells['"Wait"'] == '"Surgery to wound closed"'
    assert [name.strip('"') for name in head.split(",")] == [
        "Family name", "Given name", "Born", "Wait", "Began", "Came to us on", "Target day", "Stopped", "How it stands",
        "Days", "Hand", "Finger", "Stitches", "Priority", "Site", "Therapist", "Surgeon",
    ]  # fmt: skip


def test_a_long_list_is_made_behind_the_pages(waits, lead, monkeypatch):
    monkeypatch.setattr(list_files, "STEP", 7)
    address = f"{ADDRESS}?{MONTH}&clock=wound-closed&sort=surgeon"
    at_once = lead.post(address, {"kind": "csv"})
    monkeypatch.setattr(list_files, "AT_ONCE", 2)
    lead.post(address, {"kind": "csv"})
    jobs.run_due_jobs(limit=1)
    made_later = lead.get(f"/jobs/{Job.objects.get().code}/file/")
    assert made_later.content == at_once.content and at_once.content.count(b"\r\n") > 25


def test_every_column_orders_both_ways(waits, lead):
    """All fingers are alike here."""
    address = f"{ADDRESS}?{MONTH}&clock=first-visit-restarted&per=100"
    for column in ("patient", "days", "began", "state", "due", "hand", "people", "surgeon"):
        up, down = (lead.get(f"{address}&sort={sort}").context["table"] for sort in (column, f"-{column}"))
        assert up.paging.total == down.paging.total > 1
        assert (str(up.body) == str(down.body)) is (column == "hand")


def test_nobody_behind_a_figure_is_said_so(clinic, lead):
    page = said(lead.get(f"{ADDRESS}?clock=wound-closed&which=ended"))
    assert "No wait stands behind this figure" in page and 'href="/waits/?clock=wound-closed' in page
