"""What the findings of an episode prove: stitches out, wound closed, trim pending, red flags open.

Decided here:
- Findings count in the order of their day, then of the day they were recorded, then as given.
- The patient's word proves nothing. A red flag is the exception: a warning is never dropped, whoever gave it.
- Stitches are fully out when none are left and the counts add up over all removals (in = out + left), or the number
  put in is not known, or somebody confirmed it. A contradiction counts as a partial removal. The record asks for that
  confirmation when the number put in is not known; here, left = 0 is trusted.
- The last stitches finding decides: a stitch that is found later makes the removal partial again.
- A wound is closed only by a finding that was seen here or countersigned; anything else but the patient's word can say
  that it is not closed. Where there are stitches to take out (non-absorbable, unknown, or ordered by the surgeon), a
  wound that they still hold is not yet closed: the finding must be of the day of full removal or later.
- A reported removal counts from its day, but opens a gate only once it is countersigned or the wound was seen closed.
"""

from collections.abc import Iterable, Sequence
from datetime import date
from itertools import zip_longest
from typing import Final, NamedTuple

from caseload.timetable.facts import EpisodeFacts, Finding
from caseload.timetable.terms import FindingKind, FollowUpKind, Source, Suture, WoundState

STITCHED: Final = frozenset({Suture.NON_ABSORBABLE, Suture.UNKNOWN})
"""Sutures that must come out, or may have to."""


class Partial(NamedTuple):
    """A removal that left stitches in, the next stitches finding after it, and whether its counts contradict."""

    finding: Finding
    ended_by: Finding | None
    counts: tuple[int, int] | None
    """Stitches put in, and taken out so far, where none are said to be left but the numbers disagree."""


class Evidence(NamedTuple):
    """What stands proven. `to_remove`: there are stitches to take out, or there may be.

    `removal` is the first finding of the full removal that stands, `removal_counts` says whether it opens gates.
    `wounds` are the wound findings that count: `closed` is the first of the closed spell that stands, `reopened` the
    one that ended the last spell, `unclosed` the last one if it says not closed, and `held` a closing that does not
    count yet, because stitches were in. `trims` has each mark for trimming with the finding that it was done.
    """

    to_remove: bool
    removal: Finding | None = None
    removal_counts: bool = False
    partials: tuple[Partial, ...] = ()
    wounds: tuple[Finding, ...] = ()
    closed: Finding | None = None
    reopened: Finding | None = None
    unclosed: Finding | None = None
    held: Finding | None = None
    trims: tuple[tuple[Finding, Finding | None], ...] = ()
    red_flags: tuple[Finding, ...] = ()

    @property
    def partial(self) -> Partial | None:
        """The removal that stands, if it left stitches in."""
        last = self.partials[-1] if self.partials else None
        return last if last and last.ended_by is None else None

    @property
    def trim(self) -> Finding | None:
        return next((needed for needed, done in self.trims if done is None), None)


NOTHING: Final = {to_remove: Evidence(to_remove) for to_remove in (False, True)}


def read_evidence(facts: EpisodeFacts) -> Evidence:
    """What the standing findings of an episode prove."""
    to_remove = facts.suture in STITCHED or _is_ordered(facts)
    if not facts.findings:
        return NOTHING[to_remove]
    ordered = sorted(facts.findings, key=lambda finding: (finding.on, finding.recorded_on or finding.on))
    told = [finding for finding in ordered if finding.source is not Source.PATIENT]
    stitches = [finding for finding in told if finding.kind is FindingKind.STITCHES]
    wounds = tuple(finding for finding in told if finding.kind is FindingKind.WOUND and _says(finding))
    fulls, partials = _removals(stitches, facts.stitches_in)
    wound = _Wound.read(wounds, fulls[0].on if fulls else None, to_remove)
    return Evidence(
        to_remove=to_remove,
        removal=fulls[0] if fulls else None,
        removal_counts=_removal_counts(fulls, wounds),
        partials=partials,
        wounds=wounds,
        closed=wound.closed,
        reopened=wound.reopened,
        unclosed=wounds[-1] if wounds and not _is_closed(wounds[-1]) else None,
        held=wound.held,
        trims=_trims(told),
        red_flags=tuple(finding for finding in ordered if _is_open_flag(finding)),
    )


def is_vouched_for(finding: Finding) -> bool:
    """Seen here, or countersigned by a therapist."""
    return finding.source is Source.SEEN or (
        finding.source is not Source.PATIENT and finding.countersigned_on is not None
    )


def _is_ordered(facts: EpisodeFacts) -> bool:
    """Whether the surgeon ordered stitches to be taken out."""
    return any(given.item == FollowUpKind.STITCHES_OUT for given in facts.instructions)


def _is_closed(finding: Finding) -> bool:
    return finding.state is WoundState.CLOSED


def _says(finding: Finding) -> bool:
    """Whether a wound finding counts: good news only if vouched for, bad news always."""
    return not _is_closed(finding) or is_vouched_for(finding)


def _is_open_flag(finding: Finding) -> bool:
    return finding.kind is FindingKind.RED_FLAG and finding.closed_on is None


def _removals(stitches: Sequence[Finding], put_in: int | None) -> tuple[list[Finding], tuple[Partial, ...]]:
    """The full removals since the last partial one, in order, and every partial one."""
    fulls: list[Finding] = []
    partials: list[Partial] = []
    taken_out = 0
    for finding, later in zip_longest(stitches, stitches[1:]):
        taken_out += finding.out or 0
        settled = bool(fulls) or finding.confirmed_full  # what is out already cannot contradict the number put in
        contradicts = finding.left == 0 and put_in not in (None, taken_out) and not settled
        if finding.left == 0 and not contradicts:
            fulls.append(finding)
        else:
            fulls.clear()
            counts = (put_in, taken_out) if contradicts and put_in is not None else None
            partials.append(Partial(finding, later, counts))
    return fulls, tuple(partials)


def _removal_counts(fulls: Iterable[Finding], wounds: Iterable[Finding]) -> bool:
    """A full removal opens gates if vouched for, or the wound was seen closed on its day or later."""
    return any(
        is_vouched_for(full) or any(_is_closed(wound) and wound.on >= full.on for wound in wounds) for full in fulls
    )


class _Wound(NamedTuple):
    closed: Finding | None = None
    reopened: Finding | None = None
    held: Finding | None = None

    @classmethod
    def read(cls, wounds: Iterable[Finding], out_on: date | None, to_remove: bool) -> "_Wound":
        """The closed spell that stands, what ended the last one, and a closing that does not count yet."""
        closed = reopened = held = None
        for finding in wounds:
            if not _is_closed(finding):
                reopened = finding if closed else reopened
                closed = held = None
            elif to_remove and (out_on is None or finding.on < out_on):
                held = finding
            else:
                closed = closed or finding
        return cls(closed, reopened, held)


def _trims(told: Sequence[Finding]) -> tuple[tuple[Finding, Finding | None], ...]:
    """Each finding that ends need trimming, with the first finding after it that they were trimmed."""
    return tuple(
        (finding, next(filter(_is_trimmed, told[place + 1 :]), None))
        for place, finding in enumerate(told)
        if finding.kind is FindingKind.TRIM_NEEDED
    )


def _is_trimmed(finding: Finding) -> bool:
    return finding.kind is FindingKind.TRIMMED and is_vouched_for(finding)
