"""What is kept of a list, and for how long: unconfirmed for 30 days, the cells of a confirmed one for 90."""

from datetime import timedelta

import pytest

from caseload.actions import intake
from caseload.actions.ticks import SCHEDULE
from caseload.models import Episode, IntakeBatch, IntakeRow, Patient
from tests.intake.conftest import listing, said, verdicts
from tests.scenario import by

NOW = by().at


def test_forgetting_is_part_of_the_schedule():
    assert intake.forget_old_uploads in {do for _, do in SCHEDULE.values()}


@pytest.mark.parametrize(("days", "left"), [(30, 1), (31, 0)])
def test_an_upload_that_nobody_confirms_goes_after_thirty_days(upload, days, left):
    upload(said())
    intake.forget_old_uploads(NOW + timedelta(days=days))
    assert IntakeBatch.objects.count() == left


@pytest.mark.parametrize(("days", "kept"), [(90, True), (91, False)])
def test_the_cells_of_a_list_that_was_taken_in_go_after_ninety_days(take, days, kept):
    take(said(), said(site="Hill Top"))
    intake.forget_old_uploads(NOW + timedelta(days=days))
    for row in IntakeRow.objects.all():
        assert bool(row.cells) == bool(row.match) == kept
    assert Episode.objects.count() == 1


def test_nothing_that_names_a_person_is_left_of_a_row_that_was_not_taken(take):
    take(said(surgery_date="3/4/26"))
    intake.forget_old_uploads(NOW + timedelta(days=91))
    row = IntakeRow.objects.values().get()
    assert [row[name] for name in ("cells", "entry", "problems", "match", "identity")] == [[], None, [], {}, ""]


def test_a_forgotten_list_is_still_known_when_it_comes_again(take, upload):
    data = listing(said(nhs_number="", telephone=""))
    take(data)
    intake.forget_old_uploads(NOW + timedelta(days=91))
    assert verdicts(upload(data)) == ["known"]


def test_after_forgetting_a_list_that_differs_from_the_record_is_asked_about(take, upload):
    take(said())
    intake.forget_old_uploads(NOW + timedelta(days=91))
    assert verdicts(upload(said(stitches_in="5"))) == ["doubtful"]


def test_forgetting_twice_is_forgetting_once(take):
    take(said())
    for days in (91, 92):
        intake.forget_old_uploads(NOW + timedelta(days=days))
    assert IntakeBatch.objects.get().forgotten_at == NOW + timedelta(days=91)
    assert Patient.objects.count() == 1
