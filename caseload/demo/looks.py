"""What a look at an operated digit finds."""

from dataclasses import replace
from typing import Any

from caseload.actions.visits import Look
from caseload.demo.telling import Telling
from caseload.models import Episode
from caseload.timetable.terms import AfterVisit, FindingKind, Suture, WoundState

Said = dict[str, Any]
PARTIAL = 0.04
UNSETTLED = 0.07
"""Wounds not closed, or of concern, at a first look (rough, from memory of common practice)."""
OPENED_AGAIN = 0.015


def look(episode: Episode, *findings: Said, **said: Any) -> Look:
    """The timetable goes on as it is, unless it is said otherwise."""
    return Look(episode, **({"after": AfterVisit.CONTINUE, "findings": findings} | said))


def removal(out: int, left: int = 0, **said: Any) -> Said:
    return {"kind": FindingKind.STITCHES, "stitches_out": out, "stitches_left": left} | said


def wound(state: WoundState = WoundState.CLOSED, **said: Any) -> Said:
    return {"kind": FindingKind.WOUND, "wound": state} | said


def all_out(episode: Episode, **said: Any) -> Said:
    """All stitches that theatre wrote down; where it wrote none, those that were found, confirmed."""
    known = episode.stitches_in is not None
    return removal(episode.stitches_in or 3, confirmed_full=not known, **said)


def first_removal(telling: Telling, episode: Episode) -> Look:
    """Mostly all out and closed; sometimes one is left in, sometimes the wound is not ready."""
    if episode.stitches_in and telling.chance(PARTIAL):
        note = "one left at the crease, not ready"
        return look(episode, removal(episode.stitches_in - 1, 1, note=note), wound(WoundState.NOT_CLOSED))
    return look(episode, all_out(episode), _state(telling, UNSETTLED))


def last_removal(telling: Telling, episode: Episode) -> Look:
    """What a partial removal left."""
    return look(episode, removal(1, confirmed_full=episode.stitches_in is None), _state(telling, UNSETTLED))


def stitches_found(telling: Telling, episode: Episode) -> Look:
    """Nobody had written down what the skin was closed with; the hand shows it."""
    return look(episode, all_out(episode), wound(), facts={"suture": Suture.NON_ABSORBABLE})


def trimmed(telling: Telling, episode: Episode) -> Look:
    return look(episode, {"kind": FindingKind.TRIM_NEEDED}, {"kind": FindingKind.TRIMMED}, wound())


def first_look(telling: Telling, episode: Episode) -> Look:
    return look(episode, _state(telling, UNSETTLED))


def second_look(telling: Telling, episode: Episode) -> Look:
    return look(episode, _state(telling, 2 * UNSETTLED))


def glance(telling: Telling, episode: Episode) -> Look:
    """At a review, a wound is spoken of only where it opened again, or was never seen closed here."""
    if telling.chance(OPENED_AGAIN):
        return opened_again(telling, episode)
    return look(episode) if episode.pk in telling.examination.closed else look(episode, wound())


def opened_again(telling: Telling, episode: Episode) -> Look:
    return look(episode, wound(WoundState.NOT_CLOSED, note="opened again at the crease, 3 mm"))


def glance_and_review(telling: Telling, episode: Episode) -> Look:
    """The therapist wants to see the hand again in some weeks; a wound that opened again is seen to before."""
    found = glance(telling, episode)
    if not _well(found) or episode is not telling.episodes[0]:
        return found
    days, minutes = telling.rng.choice([10, 14, 14, 21]), telling.rng.choice([20, 20, 40])
    return replace(found, after=AfterVisit.REVIEW, in_days=days, minutes=minutes)


def last_glance(telling: Telling, episode: Episode) -> Look:
    """All is well, and the patient leaves the caseload."""
    found = glance(telling, episode)
    return replace(found, after=AfterVisit.DISCHARGE) if _well(found) else found


def _well(found: Look) -> bool:
    return all(said.get("wound") == WoundState.CLOSED for said in found.findings)


def _state(telling: Telling, unsettled: float) -> Said:
    if not telling.chance(unsettled):
        return wound()
    if telling.chance(0.7):
        return wound(WoundState.NOT_CLOSED, note="gaping 2 mm at the middle")
    return wound(WoundState.CONCERN, note="red along the edge, no discharge")
