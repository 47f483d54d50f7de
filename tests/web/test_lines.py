"""A line for a list is made from stored rows, one for an episode from its timetable: both show the same."""

from datetime import date

import pytest

from caseload.actions import findings
from caseload.models import Episode
from caseload.reads.facts import facts_of
from caseload.reads.lines import Subject, line_of, lines_of
from caseload.reads.timetables import timetables_of
from caseload.timetable.terms import Lock, Status
from tests.scenario import TODAY, by

LOOKS = (
    (),
    ({"kind": "stitches", "stitches_out": 4, "stitches_left": 0}, {"kind": "wound", "wound": "closed"}),
    ({"kind": "stitches", "stitches_out": 2, "stitches_left": 2}, {"kind": "wound", "wound": "not-closed"}),
    ({"kind": "wound", "wound": "concern"}, {"kind": "red-flag", "note": "fever"}),
)


def stored(episode: Episode):
    subject = Subject(episode.pk, episode.surgery_on, episode.suture, episode.stitches_in)
    return lines_of([subject], TODAY).lines[episode.pk]


def derived(episode: Episode):
    return line_of(timetables_of([episode])[episode.pk], facts_of([episode])[episode.pk], TODAY)


@pytest.mark.parametrize("suture", ["non-absorbable", "absorbable", "none", "unknown"])
@pytest.mark.parametrize("look", LOOKS)
def test_stored_and_derived_lines_are_the_same(clinic, suture, look):
    if suture in ("absorbable", "none") and look and look[0]["kind"] == "stitches":
        look = look[1:]
    episode = clinic.episode(suture=suture, surgery_on=date(2026, 3, 17))
    if look:
        findings.record_visit(episode, by=by(clinic.therapist), sayings=[said | {"on": TODAY} for said in look])
    assert stored(episode) == derived(episode)


def test_a_booked_day_is_on_the_line(clinic):
    episode = clinic.episode(surgery_on=date(2026, 3, 17))
    due = episode.follow_ups.get(key="stitches-out")
    clinic.book([due], date(2026, 4, 2))
    assert next(span for span in stored(episode).spans if span.key == "stitches-out").booked == 16


def test_a_removal_that_left_stitches_in_leaves_the_gate_shut(clinic):
    episode = clinic.episode(surgery_on=date(2026, 3, 17))
    sayings = [said | {"on": TODAY} for said in LOOKS[2]]
    findings.record_visit(episode, by=by(clinic.therapist), sayings=sayings)
    assert [gate.is_open for gate in stored(episode).gates if gate.lock is Lock.STITCHES_OUT] == [False]


def test_what_hangs_on_something_not_recorded_is_never_late(clinic):
    episode = clinic.episode(surgery_on=date(2026, 1, 5))
    review = next(span for span in stored(episode).spans if span.kind == "therapy-review")
    assert review.provisional and review.status is Status.OPEN


def test_an_episode_without_a_surgery_date_has_no_line(clinic):
    episode = clinic.episode(surgery_on=None)
    assert lines_of([Subject(episode.pk, None, episode.suture, None)], TODAY).lines == {}
