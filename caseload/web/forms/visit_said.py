"""What was typed of one digit, as the act of recording takes it."""

from collections.abc import Mapping
from typing import Any

from caseload.actions.visits import Look
from caseload.measures.bodies import Body
from caseload.measures.limits import Doubt, doubts
from caseload.measures.terms import MeasureKind
from caseload.models import Episode
from caseload.reads.marks import Seen
from caseload.timetable.terms import ActivityKind, AfterVisit, Digit, FindingKind
from caseload.web.forms.measures import body_of
from caseload.web.forms.visit_fields import LENGTHS

Said = Mapping[str, Any]
Measured = dict[MeasureKind, Body]
ANY_DIGIT = Digit.MIDDLE
"""What is not measured of joints has the same limits whichever digit it is, and where that is not known."""


def look_of(episode: Episode, said: Said, measured: Measured) -> Look:
    """`said` are the cleaned values by their names without the prefix."""
    return Look(
        episode,
        AfterVisit(said["after"]),
        seen=Seen.read(said["seen"]),
        facts=facts_of(said, episode),
        findings=findings_of(said),
        measured=measured,
        started=[ActivityKind(kind) for kind in said.get("started", ())],
        in_days=said["in_days"],
        minutes=said["minutes"] or LENGTHS[0],
        received_by=said["received_by"],
    )


def facts_of(said: Said, episode: Episode) -> dict[str, Any]:
    """Corrections of the episode. A number that was emptied is none."""
    facts = {name: said[name] for name in ("suture", "stitches_in") if said.get(name) not in (None, "")}
    return {name: value for name, value in facts.items() if value != getattr(episode, name)}


def findings_of(said: Said) -> list[dict[str, Any]]:
    """As `actions.findings.record_visit` takes them, without day and source."""
    found: list[dict[str, Any]] = []
    counts = {name: said.get(name) for name in ("stitches_out", "stitches_left")}
    if any(value is not None for value in counts.values()):
        found.append({"kind": FindingKind.STITCHES, "confirmed_full": said["confirmed_full"], **counts})
    if said["wound"]:
        found.append({"kind": FindingKind.WOUND, "wound": said["wound"]})
    if said.get("trim"):
        found.append({"kind": FindingKind(said["trim"])})
    if said["red_flag"]:
        found.append({"kind": FindingKind.RED_FLAG, "note": said["red_flag"]})
    return found


def read_measure(kind: MeasureKind, episode: Episode, said: Said, prefix: str) -> Body | None:
    """Raises Refusal as `measures.body_of` does."""
    return body_of(kind, _digit(episode, kind), said, prefix)


def doubts_of(episode: Episode, measured: Measured) -> list[Doubt]:
    """What is asked back of one digit before it is saved."""
    return [doubt for kind, body in measured.items() for doubt in doubts(body, _digit(episode, kind) or ANY_DIGIT)]


def _digit(episode: Episode, kind: MeasureKind) -> Digit | None:
    if episode.digit:
        return Digit(episode.digit)
    return None if kind is MeasureKind.MOTION else ANY_DIGIT
