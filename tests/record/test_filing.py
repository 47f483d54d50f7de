"""Filing a month of waits: once, of a month that is over, by the lead; never changed, never deleted.

Later entries show beside it: as filed, as now known, and what moved it.
"""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import IntegrityError, transaction

from caseload.access import Act
from caseload.actions import findings, referrals, wiping
from caseload.actions.filing import file_month
from caseload.errors import Refusal
from caseload.models import Episode, Filing, Staff, TrailEntry, Wait
from caseload.reads.filings import Mover, months, movers, restatement, years
from caseload.waits.filed import Filed
from caseload.waits.restated import Told
from caseload.waits.terms import Clock
from tests.scenario import TODAY, Fernhollow, by

MARCH = date(2026, 3, 1)
NOW = datetime(2026, 4, 1, 9, tzinfo=UTC)


def row(lead: Staff, month: date = MARCH) -> Filing:
    return Filing.objects.create(month=month, body={"shape": 1}, filed_by=lead, filed_at=NOW)


def filed(clinic: Fernhollow) -> Filing:
    return file_month(MARCH, by=by(clinic.lead))


def out(clinic: Fernhollow, episode: Episode, on: date, today: date) -> None:
    """All stitches out on a day, recorded on another."""
    said = {"kind": "stitches", "source": "seen", "stitches_out": 4, "stitches_left": 0}
    findings.record(episode, by=by(clinic.therapist, today), on=on, **said)


def moved(filing: Filing) -> list[Mover]:
    return movers(restatement(filing).moved, filing.filed_at)


@pytest.mark.parametrize("change", ["update", "delete"])
def test_the_database_refuses_to_change_or_delete_what_was_filed(clinic: Fernhollow, change: str):
    filed = Filing.objects.filter(pk=row(clinic.lead).pk)
    with pytest.raises(IntegrityError, match="a month that was filed is never"), transaction.atomic():
        filed.update(body={}) if change == "update" else filed.delete()
    assert filed.get().body == {"shape": 1}


def test_what_the_demo_filed_is_wiped_with_it(db: None):
    row(Staff.objects.create(username="lena", name="Lena", is_lead=True, demo=True))
    wiping.wipe()
    assert not Filing.objects.exists()


def test_a_filed_month_keeps_its_figures_its_rules_and_the_waits_they_were_made_of(clinic):
    episode = clinic.episode()
    body = Filed.from_json(Filing.objects.get(pk=filed(clinic).pk).body)
    assert {(wait.of, wait.clock) for wait in body.waits} == {
        (episode.code, Clock.STITCHES_OUT), (episode.code, Clock.WOUND_CLOSED),
    }  # fmt: skip
    assert body.rules == (str(clinic.rules),)
    assert body.figures[Clock.STITCHES_OUT].now.waiting == 1
    assert TrailEntry.objects.get(act=Act.MONTH_FILE).changed == {"month": [None, "2026-03-01"]}


def test_no_patient_is_named_in_what_is_filed(clinic):
    patient = clinic.patient(given="Rosalind", family="Ashdown")
    clinic.episode(patient)
    body = str(filed(clinic).body)
    assert not any(said in body for said in ("Rosalind", "Ashdown", patient.code))


def test_a_month_that_is_not_over_is_not_filed(clinic):
    clinic.episode()
    with pytest.raises(Refusal, match="March 2026 is not over yet"):
        file_month(MARCH, by=by(clinic.lead, date(2026, 3, 31)))


def test_a_month_in_which_nobody_waited_is_not_filed(clinic):
    with pytest.raises(Refusal, match="Nobody waited in March 2026"):
        filed(clinic)


def test_the_second_of_two_leads_is_told_who_filed_it(clinic):
    clinic.episode()
    filed(clinic)
    other = Staff.objects.create(username="lou", name="Lou Vane", is_lead=True)
    with pytest.raises(Refusal, match=r"March 2026 was filed on Wed 1 Apr 2026, 10:00 by Lena Marsh"):
        file_month(date(2026, 3, 17), by=by(other))
    assert Filing.objects.get().filed_by == clinic.lead


def test_time_that_passes_restates_nothing(clinic):
    episode = clinic.episode()
    referrals.add(episode.patient, by=by(clinic.admin), received_on=date(2026, 3, 10), source="hand surgery")
    filing = filed(clinic)
    out(clinic, episode, date(2026, 4, 7), date(2026, 4, 7))
    assert restatement(filing).nothing


def test_a_first_visit_missed_booked_again_or_kept_after_the_month_restates_nothing(clinic):
    referrals.add(clinic.patient(), by=by(clinic.admin), received_on=date(2026, 3, 25), source="hand surgery")
    filing = filed(clinic)
    for later in ({"missed_on": date(2026, 4, 2)}, {"restarted_on": date(2026, 4, 6)}, {"due_on": date(2026, 4, 20)}):
        assert Wait.objects.filter(clock=Clock.FIRST_VISIT).update(**later) == 1
        assert restatement(filing).nothing


def test_a_late_entry_shows_as_a_restatement_with_what_moved_it(clinic):
    episode = clinic.episode()
    filing = filed(clinic)
    out(clinic, episode, date(2026, 3, 30), date(2026, 4, 8))
    lines = {line.figure: line for line in restatement(filing).lines[Clock.STITCHES_OUT] if not line.site}
    assert (lines[Told.SEEN].filed, lines[Told.SEEN].now, lines[Told.WAITING].now) == (0, 1, 0)
    (mover,) = moved(filing)
    assert (mover.patient, mover.moved.fields) == (episode.patient, ("ended", "stopped_on"))
    assert (mover.entry.act, mover.entry.by) == (Act.FINDING_RECORD, clinic.therapist)


def test_a_wait_that_was_not_known_is_new_and_told_by_what_brought_it(clinic):
    clinic.episode()
    filing = filed(clinic)
    late = by(clinic.admin, date(2026, 4, 9))
    referrals.add(clinic.patient(), by=late, received_on=date(2026, 3, 24), source="hand surgery")
    found = moved(filing)
    assert {mover.moved.wait.clock for mover in found} == {Clock.FIRST_VISIT, Clock.OFFERED}
    assert {(mover.moved.was, mover.entry.act) for mover in found} == {(None, Act.REFERRAL_ADD)}


def test_the_months_of_a_year_say_which_are_filed_to_be_filed_and_not_over(clinic):
    episode = clinic.episode()
    filed(clinic)
    out(clinic, episode, date(2026, 3, 30), date(2026, 4, 8))
    april, march, february, _ = months(2026, TODAY + timedelta(days=7))
    assert (april.over, april.filing, march.moved, february.waits) == (False, None, 1, False)
    assert march.filing.month == MARCH
    assert years(date(2027, 1, 4)) == [2027, 2026]
