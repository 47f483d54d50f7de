"""What a visit would bring about is found by carrying it out and undoing it: it says all of it, and writes nothing."""

from datetime import date

import pytest

from caseload.actions import visits
from caseload.actions.rehearsal import foresee
from caseload.booking.good import Fault
from caseload.errors import Refusal
from caseload.models import Episode, Finding, FollowUp, Visit
from caseload.timetable.terms import AfterVisit, Change
from tests.scenario import Fernhollow, by

OUT_ON = date(2026, 4, 2)
REMOVED = [{"kind": "stitches", "stitches_out": 4, "stitches_left": 0}, {"kind": "wound", "wound": "closed"}]
HALF = [{"kind": "stitches", "stitches_out": 2, "stitches_left": 2}, {"kind": "wound", "wound": "not-closed"}]


def foreseen(clinic: Fernhollow, episode: Episode, found: list[dict], after: AfterVisit = AfterVisit.CONTINUE):
    look = visits.Look(episode, after, findings=found)
    own = by(clinic.therapist, OUT_ON)
    return foresee(
        episode.patient, [episode], today=OUT_ON,
        doing=lambda: visits.record(episode.patient, by=own, on=OUT_ON, looks=[look]),
    )  # fmt: skip


@pytest.fixture
def episode(clinic: Fernhollow) -> Episode:
    return clinic.episode()


def test_it_says_what_unlocks_and_what_is_done(clinic: Fernhollow, episode: Episode):
    moved = {(move.change, str(move.kind)) for move in foreseen(clinic, episode, REMOVED).moves[episode.pk]}
    assert {(Change.DONE, "stitches-out"), (Change.UNLOCKED, "scar-massage")} <= moved


def test_it_says_what_needs_a_place(clinic: Fernhollow, episode: Episode):
    keys = {row.kind for row in foreseen(clinic, episode, HALF).to_book}
    assert {"stitches-recheck", "wound-recheck"} <= keys


def test_it_names_a_booking_that_is_not_needed_any_more(clinic: Fernhollow, episode: Episode):
    booked = clinic.book([episode.follow_ups.get(key="stitches-out")], date(2026, 4, 7))
    assert foreseen(clinic, episode, REMOVED).needless == [booked]


def test_it_names_a_booking_that_does_not_fit_any_more(clinic: Fernhollow, episode: Episode):
    booked = clinic.book([episode.follow_ups.get(key="therapy-review")], date(2026, 4, 28))
    [misfit] = foreseen(clinic, episode, REMOVED).misfits  # its window is 9 to 23 April from now on
    assert (misfit.appointment, misfit.faults) == (booked, (Fault.OUTSIDE_WINDOW,))


def test_nothing_is_written(clinic: Fernhollow, episode: Episode):
    before = list(FollowUp.objects.order_by("id").values())
    foreseen(clinic, episode, REMOVED)
    assert list(FollowUp.objects.order_by("id").values()) == before
    assert not Finding.objects.exists() and not Visit.objects.exists()


def test_what_would_be_refused_is_refused(clinic: Fernhollow, episode: Episode):
    with pytest.raises(Refusal) as refusal:
        foreseen(clinic, episode, HALF, AfterVisit.DISCHARGE)
    assert (refusal.value.code, refusal.value.details["episode"]) == ("stitches-in", episode.code)
