"""Who has come today: those whose time it is, one who was seen already, and one whom nobody had booked."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from random import Random
from typing import Any

from caseload.actions import appointments, visits
from caseload.actions.act import By
from caseload.booking.clock import instant_of
from caseload.demo import looks
from caseload.demo.examining import TAUGHT, Examination
from caseload.demo.measuring import Hand
from caseload.demo.stage import ORIGIN, Stage
from caseload.models import Appointment, FollowUp
from caseload.timetable.terms import FollowUpKind, Suture, Way

EARLY = timedelta(minutes=6)
FIRST_LOOKS = (FollowUpKind.STITCHES_OUT, FollowUpKind.WOUND_CHECK)
"""Nothing was measured before these, so no curve is broken off."""


def come_in(stage: Stage, booked: Sequence[Appointment]) -> None:
    """Whoever's time has come is there, a few minutes early."""
    for held in booked:
        at = _starts_at(held) - EARLY
        if at <= stage.now:
            appointments.arrive(held, by=By(stage.admin(held.site.name), at, stage.today, origin=ORIGIN))


def see_one(stage: Stage, booked: Sequence[Appointment]) -> None:
    """The first who has left again is on record; the visits of the others are still to be recorded."""
    for held in booked:
        over = _starts_at(held) + timedelta(minutes=held.minutes)
        rows = [each.follow_up for each in held.purposes.select_related("follow_up__episode", "follow_up__patient")]
        if over <= stage.now and held.way == Way.IN_PERSON and len(rows) == 1 and _is_plain(rows[0]):
            assert held.session is not None
            _record(rows[0], By(held.session.therapist, over, stage.today, origin=ORIGIN), appointment=held)
            return


def drop_in(stage: Stage) -> None:
    """Somebody whose wound check nobody had booked comes by without an appointment."""
    unbooked = FollowUp.objects.due().filter(kind=FollowUpKind.WOUND_CHECK, earliest_on__lte=stage.today)
    open_now = unbooked.filter(episode__ended_on__isnull=True).exclude(purposes__live=True).order_by("pk")
    row = next((row for row in open_now.select_related("episode", "patient") if _is_plain(row)), None)
    if row:
        therapist = row.episode.therapist or stage.staff["callum"]
        _record(row, By(therapist, stage.now, stage.today, origin=ORIGIN), meets=[row])


def _starts_at(held: Appointment) -> datetime:
    assert held.session is not None and held.start_minute is not None
    return instant_of(held.on, held.start_minute, held.session.site.zone)


def _is_plain(row: FollowUp) -> bool:
    return row.kind in FIRST_LOOKS and row.episode.suture != Suture.UNKNOWN and bool(row.episode.digit)


def _record(row: FollowUp, by: By, **kept: Any) -> None:
    episode, kind = row.episode, FollowUpKind(row.kind)
    assert episode.surgery_on is not None
    removed = [looks.all_out(episode)] if kind is FollowUpKind.STITCHES_OUT else []
    examination = Examination(Hand(Random(f"hand {episode.pk}")), row.patient.born_on, episode.surgery_on)
    examination.ordered = episode.instructions.exists() or row.patient.episodes.open().count() > 1
    found = [looks.look(episode, *removed, looks.wound())]
    examination.heed(found)
    found = examination.complete(kind, found, by.today, seen=True, begins=True, whole=True)
    visits.record(row.patient, by=by, on=by.today, looks=found, taught=TAUGHT[kind], **kept)
