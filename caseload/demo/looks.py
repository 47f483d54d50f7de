"""What a look at the hand finds, as the sayings that are recorded of one visit."""

from datetime import date
from typing import Any

from caseload.demo.telling import Sayings, Telling
from caseload.models import Episode
from caseload.timetable.terms import FindingKind, Source, WoundState

PARTIAL = 0.04
UNSETTLED = 0.07
"""Wounds not closed, or of concern, at a first look (rough, from memory of common practice)."""
OPENED_AGAIN = 0.015


def removal(on: date, out: int, left: int = 0, **said: Any) -> dict[str, Any]:
    counts = {"stitches_out": out, "stitches_left": left}
    return {"kind": FindingKind.STITCHES, "on": on, "source": Source.SEEN} | counts | said


def wound(on: date, state: WoundState = WoundState.CLOSED, **said: Any) -> dict[str, Any]:
    return {"kind": FindingKind.WOUND, "on": on, "wound": state, "source": Source.SEEN} | said


def all_out(episode: Episode, on: date, **said: Any) -> dict[str, Any]:
    """All stitches that theatre wrote down; where it wrote none, those that were found, confirmed."""
    known = episode.stitches_in is not None
    return removal(on, episode.stitches_in or 3, confirmed_full=not known, **said)


def first_removal(telling: Telling, episode: Episode, on: date) -> Sayings:
    """Mostly all out and closed; sometimes one is left in, sometimes the wound is not ready."""
    if episode.stitches_in and telling.chance(PARTIAL):
        note = "one left at the crease, not ready"
        return [removal(on, episode.stitches_in - 1, 1, note=note), wound(on, WoundState.NOT_CLOSED)]
    return [all_out(episode, on), _state(telling, on, UNSETTLED)]


def last_removal(telling: Telling, episode: Episode, on: date) -> Sayings:
    """What a partial removal left."""
    return [removal(on, 1, confirmed_full=episode.stitches_in is None), _state(telling, on, UNSETTLED)]


def first_look(telling: Telling, episode: Episode, on: date) -> Sayings:
    return [_state(telling, on, UNSETTLED)]


def second_look(telling: Telling, episode: Episode, on: date) -> Sayings:
    return [_state(telling, on, 2 * UNSETTLED)]


def glance(telling: Telling, episode: Episode, on: date) -> Sayings:
    """At a review, a wound is spoken of only where it opened again."""
    if telling.chance(OPENED_AGAIN):
        return [wound(on, WoundState.NOT_CLOSED, note="opened again at the crease, 3 mm")]
    return []


def _state(telling: Telling, on: date, unsettled: float) -> dict[str, Any]:
    if not telling.chance(unsettled):
        return wound(on)
    if telling.chance(0.7):
        return wound(on, WoundState.NOT_CLOSED, note="gaping 2 mm at the middle")
    return wound(on, WoundState.CONCERN, note="red along the edge, no discharge")
