"""Pages of filed months: filing one, and what was filed beside what is known now."""

from datetime import date

import pytest
from django.test import Client

from caseload.actions import findings
from caseload.actions.filing import file_month
from caseload.models import Filing, Look
from tests.scenario import Fernhollow, by
from tests.web.reading import read


@pytest.fixture
def filing(clinic: Fernhollow) -> Filing:
    clinic.episode()
    return file_month(date(2026, 3, 1), by=by(clinic.lead))


def out(clinic: Fernhollow, filing: Filing) -> None:
    """All stitches out in the month, recorded after it was filed."""
    episode = clinic.therapist.episodes.get()
    said = {"kind": "stitches", "source": "seen", "stitches_out": 4, "stitches_left": 0, "on": date(2026, 3, 30)}
    findings.record(episode, by=by(clinic.therapist, date(2026, 4, 8)), **said)


def page(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200
    return read(answer)


def test_a_lead_files_a_month_that_is_over_and_lands_on_it(clinic, lead):
    clinic.episode()
    assert "File March 2026" in page(lead, "/waits/months/")
    answer = lead.post("/waits/months/", {"month": "2026-03-01"}, follow=True)
    assert answer.redirect_chain == [(f"/waits/months/{Filing.objects.get().code}/", 302)]
    assert "Nothing moved." in answer.content.decode()


def test_a_month_sent_twice_is_filed_once_and_the_second_lead_is_told_by_whom(filing, lead):
    answer = lead.post("/waits/months/", {"month": "2026-03-01"}, follow=True)
    assert "March 2026 was filed on Wed 1 Apr 2026" in read(answer)
    assert Filing.objects.count() == 1


def test_the_same_form_again_lands_where_the_first_did(clinic, lead):
    clinic.episode()
    form = {"month": "2026-03-01", "key": "5b8bb1c2-0d4a-4a40-9d3e-2f4ad2b4a111"}
    first, again = (lead.post("/waits/months/", form).headers["Location"] for _ in range(2))
    assert first == again == f"/waits/months/{Filing.objects.get().code}/"


@pytest.mark.parametrize("month", ["", "March", "2026-04-01", "0001-01-01", "9999-12-31"])
def test_what_cannot_be_filed_is_said_on_the_list(clinic, lead, month):
    answer = lead.post("/waits/months/", {"month": month}, follow=True)
    assert answer.redirect_chain == [("/waits/months/", 302)]
    assert not Filing.objects.exists()
    assert "notice bad" in answer.content.decode()


def test_the_list_says_what_is_filed_restated_and_not_over(clinic, filing, lead):
    assert "nothing moved" in page(lead, "/waits/months/?year=2026")
    out(clinic, filing)
    said = page(lead, "/waits/months/?year=nonsense")
    assert "1 wait moved since" in said
    assert "not over yet" in said and "nobody waited" in said


def test_a_restatement_shows_both_the_difference_and_who_moved_it_and_that_is_recorded(clinic, filing, lead):
    out(clinic, filing)
    said = page(lead, f"/waits/months/{filing.code}/")
    patient = clinic.therapist.episodes.get().patient
    assert f'href="/patients/{patient.code}/"' in said
    assert "state: still waiting → seen" in said
    assert "finding recorded on Wed 8 Apr 2026, 10:00 by a therapist" in said
    assert Look.objects.filter(patient=patient, by=clinic.lead, route="filing").count() == 1


def test_nobody_is_recorded_as_seen_where_nothing_moved(filing, lead, clinic):
    assert "Nothing moved." in page(lead, f"/waits/months/{filing.code}/")
    assert not Look.objects.filter(route="filing").exists()


def test_a_target_of_today_that_differs_is_said(filing, lead, settings):
    settings.WAIT_TARGETS = settings.WAIT_TARGETS | {"first_visit": 10, "offered": 3}
    said = page(lead, f"/waits/months/{filing.code}/")
    assert "The target of the first visit was 14 days and is 10 days now." in said
    assert "The target of the appointment offered was none and is 3 days now." in said


@pytest.mark.parametrize("way", ["get", "post"])
def test_only_a_lead_sees_or_files_months(filing, therapist, admin, way):
    for client in (therapist, admin):
        assert getattr(client, way)("/waits/months/").status_code == 403
    assert admin.get(f"/waits/months/{filing.code}/").status_code == 403


@pytest.mark.parametrize("year", ["1999", "٢٠٢٦", "9" * 5000])
def test_the_months_of_a_year_without_waits_are_those_of_this_year(lead, year):
    assert "March 2026" in page(lead, f"/waits/months/?year={year}")
